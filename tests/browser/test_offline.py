"""Nothing that was played is lost: the network goes, the page goes, and the take arrives once."""

import re
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import Open
from tests.browser.journeys import put_on_stand, verdict_of
from tests.browser.standing import FASTEST, agree, at_tempo, on_loop, play_into, said, still

pytestmark = pytest.mark.slow

TAKE = re.compile(r"^Take \d+$")


def count(page: Any, at: str) -> int:
    """How many takes the studio has of the exercise."""
    page.goto(at)
    still(page)
    return int(page.get_by_role("link", name=TAKE).count())


def agreed(page: Any) -> str:
    """The Stand of a player who has agreed to be recorded; its address."""
    at = put_on_stand(page)
    page.evaluate("at => fetch(`${at}/../consent`, { method: 'POST' }).then(() => true)", at)
    return at


def begin(page: Any) -> None:
    """Begin a fast take, and wait until a piece of it is kept."""
    at_tempo(page, FASTEST)
    page.get_by_role("button", name="Record", exact=True).click()
    agree(page)
    page.get_by_role("button", name="Stop and send").wait_for()
    page.locator("#where").get_by_text("bar 4").wait_for(timeout=60_000)


def test_a_take_outlives_a_lost_network(studio: str, browser: Open, take: Path) -> None:
    """The network goes in mid-take. The page is closed and opened again without it, by what it
    kept; when the network is back the take goes by itself, once."""
    with browser(studio) as page:
        at = on_loop(page, bleed=0.05)
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        before = count(page, at)
        page.evaluate("window.loop.bleed = 0.05")
        play_into(page, take)
        begin(page)
        page.context.set_offline(True)
        said(page, "Not yet sent")
        page.reload()
        still(page)
        page.get_by_role("heading", name="Not yet sent").wait_for()
        assert page.locator("#score svg").count() > 0, "the music is there without a network"
        page.context.set_offline(False)
        said(page, "Heard")
        page.locator("#verdict article").wait_for()
        assert not page.get_by_role("heading", name="Not yet sent").is_visible()
        assert count(page, at) == before + 1
        assert page.locator(".unsent li").count() == 0


def test_a_take_outlives_its_page(studio: str, browser: Open) -> None:
    """A page that is gone in mid-take: as far as it came the take is kept, and sent by the next."""
    with browser(studio) as page:
        at = on_loop(page, bleed=0.05)
        before = count(page, at)
        page.evaluate("window.loop.bleed = 0.05")
        begin(page)
        page.context.new_page().goto(f"{studio}/shelf")
        page.close(run_before_unload=False)
        other = page.context.pages[-1]
        other.goto(at)
        said(other, "Heard")
        assert count(other, at) == before + 1


def test_a_file_waits_for_the_network_too(studio: str, browser: Open, take: Path) -> None:
    with browser(studio) as page:
        at = agreed(page)
        before = count(page, at)
        page.get_by_label("A recording", exact=True).set_input_files(take)
        page.context.set_offline(True)
        page.get_by_role("button", name="Send it", exact=True).click()
        said(page, "Not yet sent")
        assert page.get_by_role("button", name="Keep it as a file").is_visible()
        page.get_by_role("button", name="Send it again").click()
        said(page, "Not yet sent")
        page.context.set_offline(False)  # and it goes by itself
        verdict_of(page)
        assert count(page, at) == before + 1


def test_a_take_can_be_kept_as_a_file_or_thrown_away(
    studio: str, browser: Open, take: Path, tmp_path: Path
) -> None:
    with browser(studio) as page:
        at = agreed(page)
        before = count(page, at)
        page.get_by_label("A recording", exact=True).set_input_files(take)
        page.context.set_offline(True)
        page.get_by_role("button", name="Send it", exact=True).click()
        page.get_by_role("heading", name="Not yet sent").wait_for()
        with page.expect_download() as getting:
            page.get_by_role("button", name="Keep it as a file").click()
        getting.value.save_as(tmp_path / "kept.wav")
        assert (tmp_path / "kept.wav").read_bytes().startswith(b"RIFF")
        page.get_by_role("button", name="Throw it away").click()
        page.get_by_role("heading", name="Not yet sent").wait_for(state="hidden")
        page.context.set_offline(False)
        assert count(page, at) == before
