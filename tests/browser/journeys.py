"""What several journeys do: make the demo's lesson, and read a verdict."""

import re
from typing import Any

from changewright.usecases.demo import DEMO, PLANTED

__all__ = [
    "add_player",
    "make_lesson",
    "put_on_stand",
    "until_made",
    "verdict_of",
    "wrong_bars",
]


def add_player(
    page: Any, nickname: str = DEMO.student, instrument: str = DEMO.instrument, age: str = "adult"
) -> str:
    """Put a player on the roster as a teacher would; the address of his page."""
    page.goto("/")
    known = page.get_by_role("link", name=nickname, exact=True)
    if known.count():
        known.first.click()
    else:
        page.get_by_role("link", name="Put a player on the roster").click()
        page.get_by_label("Nickname").fill(nickname)
        page.get_by_label("Instrument").select_option(instrument)
        page.get_by_label("Age").select_option(age)
        page.get_by_role("button", name="Put on the roster").click()
    page.get_by_role("heading", name=nickname, level=1).wait_for()
    return str(page.url).partition("#")[0]


def make_lesson(page: Any) -> str:
    """Fill in the Desk's form as a teacher would; the lesson's address."""
    add_player(page)
    page.goto("/")
    page.get_by_label("Chart", exact=True).select_option(f"{DEMO.chart}@0")
    page.get_by_label("Player", exact=True).select_option(label=DEMO.student)
    page.get_by_label("Instrument", exact=True).select_option(DEMO.instrument)
    page.get_by_label("Level", exact=True).select_option(str(DEMO.level))
    page.get_by_label("Seed", exact=True).fill(str(DEMO.seed))
    page.get_by_role("button", name="Make the lesson").click()
    return until_made(page)


def until_made(page: Any) -> str:
    """Wait for a lesson's page, once the lesson is there; its address."""
    page.wait_for_url(re.compile("/lessons/[0-9a-f]{16}$"))
    page.get_by_role("link", name="Put it on the Stand").first.wait_for(timeout=120_000)
    return str(page.url)


def put_on_stand(page: Any) -> str:
    """From the Desk to the Stand with the first exercise; its address."""
    make_lesson(page)
    page.get_by_role("link", name="Put it on the Stand").first.click()
    page.locator("#stand[data-state=still]").wait_for()  # its modules have come, and listen
    return str(page.url)


def verdict_of(page: Any) -> dict[int, str]:
    """The word for each bar, once the verdict is there."""
    page.locator("#verdict .bars li, #verdict .fault, article .bars li").first.wait_for(
        timeout=120_000
    )
    found = page.locator(".verdict .bars li").evaluate_all(
        "all => all.map(e => [e.value, e.className])"
    )
    return dict(found)


def wrong_bars() -> set[int]:
    """The bars with a mistake made on purpose."""
    return {one.bar for one in PLANTED}
