"""What journeys on the Stand share: agreeing, waiting for words, a loop for a microphone."""

import base64
import re
from pathlib import Path
from typing import Any

from tests.browser.journeys import put_on_stand

__all__ = ["FASTEST", "agree", "at_tempo", "on_loop", "play_into", "said", "still"]

FASTEST = 320
"""A chorus at this tempo, in quarters a minute, is over in nine seconds."""

LOOP = (Path(__file__).parent / "loop.js").read_text("utf-8")


def on_loop(page: Any, **loop: Any) -> str:
    """The Stand with a loop in place of loudspeaker and microphone, see ``loop.js``; its
    address."""
    page.add_init_script(LOOP)
    at = put_on_stand(page)
    page.evaluate("told => Object.assign(window.loop, told)", loop)
    return at


def play_into(page: Any, take: Path) -> None:
    """Let a player play a recording when the band begins."""
    page.evaluate("text => loop.load(text)", base64.b64encode(take.read_bytes()).decode())


def said(page: Any, words: str) -> None:
    """Wait until the Stand says it."""
    found = page.locator("#said").get_by_text(re.compile(words))
    found.wait_for(timeout=120_000)


def still(page: Any) -> None:
    """Wait until the Stand's modules have come and nothing sounds."""
    page.locator("#stand[data-state=still]").wait_for(timeout=120_000)


def agree(page: Any) -> None:
    """Agree to being recorded, where it is asked."""
    asked = page.locator("dialog[open], #stand[data-state=busy], #stand[data-state=recording]")
    asked.first.wait_for()
    box = page.get_by_role("dialog")
    if box.is_visible():
        box.get_by_role("button", name="I agree").click()


def at_tempo(page: Any, bpm: int) -> None:
    """Ask for another tempo, and wait until the band is ready."""
    page.get_by_label("Quarters a minute").fill(str(bpm))
    page.get_by_label("Quarters a minute").press("Enter")
    page.locator("#setting").get_by_text(f"quarter = {bpm}").wait_for(timeout=120_000)
