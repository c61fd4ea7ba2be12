"""Every page in both looks and three sizes: accessible by rule, nothing cut off, nothing blank."""

import io
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from changewright.page.code import exercise_link
from tests.browser.conftest import AXE, Open
from tests.browser.journeys import put_on_stand, verdict_of
from tests.browser.standing import agree, on_loop
from tests.unit.studio.test_scanned import MADE_ELSEWHERE, label_of

pytestmark = pytest.mark.slow

WIDTHS = (390, 820, 1280)
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def findings(page: Any) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA, and its own best practice."""
    page.evaluate(AXE.read_text("utf-8"))
    script = "tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})"
    found = page.evaluate(script, TAGS)["violations"]
    return [f"{one['id']} ({one['impact']}): {one['nodes'][0]['html'][:200]}" for one in found]


@pytest.mark.parametrize("look", ["paper", "stage"])
@pytest.mark.parametrize("width", WIDTHS)
def test_every_page_is_accessible_and_fits(
    studio: str, browser: Open, width: int, look: str
) -> None:
    with browser(studio, width=width, height=844, look=look) as page:
        stand = put_on_stand(page)
        lesson = stand.rpartition("/")[0]
        chart = f"{studio}/shelf/harbourmasters-round"
        for address in (
            f"{studio}/",
            lesson,
            stand,
            f"{stand}/phrases",
            f"{studio}/shelf",
            f"{studio}/books/new",
            chart,
            f"{studio}/style",
            f"{studio}/nowhere",
        ):
            page.goto(address)
            page.wait_for_load_state("networkidle")
            assert findings(page) == [], address
            assert page.evaluate("document.documentElement.scrollWidth") <= width, address


@pytest.mark.parametrize("look", ["paper", "stage"])
def test_the_pages_of_books_codes_and_failures_are_accessible(
    studio: str, browser: Open, look: str
) -> None:
    with browser(studio, height=844, look=look) as page:
        for name, come in (
            ("a book that is there", a_book),
            ("a book that can't be read", a_broken_book),
            ("a code of a page made elsewhere", a_code),
            ("a lesson that could not be made", a_failed_lesson),
            ("the Shelf with all that it holds", a_full_shelf),
        ):
            come(page)
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 844})
                assert findings(page) == [], f"{name}, {width}"
                assert page.evaluate("document.documentElement.scrollWidth") <= width, name


def a_book(page: Any) -> None:
    page.goto("/books/new")
    page.get_by_role("button", name="Make the book").click()
    page.get_by_role("link", name="B-flat edition (PDF)").wait_for(timeout=180_000)
    for one in page.locator("summary").all():
        one.click()


def a_broken_book(page: Any) -> None:
    page.goto("/books/new")
    page.get_by_label("The book's file").fill('titel = "Two keys"\n')
    page.get_by_role("button", name="Make the book").click()
    page.locator(".fault").get_by_text("book.toml, line").wait_for()


def a_code(page: Any) -> None:
    page.goto(exercise_link(page.url.partition("/books")[0], label_of(MADE_ELSEWHERE)))
    page.get_by_role("button", name="Put it on the Stand").wait_for()


def a_failed_lesson(page: Any) -> None:
    """Nobody knows how to move a chart that names no key."""
    page.goto("/shelf/new")
    page.get_by_label("The chart, as you would write it down").fill("title: Adrift\n\n| F7 | Bb7 |")
    page.get_by_role("button", name="Keep this version").click()
    page.get_by_role("link", name="Make a lesson of it").click()
    page.get_by_label("Instrument", exact=True).select_option("clarinet")
    page.get_by_label("Level", exact=True).select_option("2")
    page.get_by_label("Concert key", exact=True).select_option("Eb")
    page.get_by_role("button", name="Make the lesson").click()
    page.get_by_role("button", name="Try again").wait_for(timeout=60_000)


def a_full_shelf(page: Any) -> None:
    page.goto("/shelf")
    page.locator("summary").get_by_text("phrases").click()


@pytest.mark.parametrize("look", ["paper", "stage"])
def test_music_can_be_seen(studio: str, browser: Open, look: str) -> None:
    """Not blank, and ink on paper or the reverse: most of a page of music is its ground."""
    with browser(studio, look=look) as page:
        put_on_stand(page)
        picture = page.locator("#score svg").first.screenshot()
    grey = np.asarray(Image.open(io.BytesIO(picture)).convert("L"), dtype=float)
    ground = np.median(grey)
    assert (ground > 200) == (look == "paper")
    assert 0.01 < (np.abs(grey - ground) > 100).mean() < 0.3


def test_the_stand_can_be_used_without_a_mouse(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        put_on_stand(page)
        names = []
        for _ in range(30):
            page.keyboard.press("Tab")
            names.append(
                page.evaluate("document.activeElement.innerText || document.activeElement.id")
            )
        assert any("Play" in name for name in names)
        assert any("Record" in name for name in names)
        assert {"from", "to", "loop"} <= set(names)
        page.get_by_role("button", name="Play").focus()
        page.keyboard.press("s")
        assert page.evaluate("document.documentElement.dataset.look") == "stage"
        page.locator("summary").get_by_text("Keys and sound").click()
        page.get_by_label("Listen to the keyboard").uncheck()
        page.keyboard.press("s")
        assert page.evaluate("document.documentElement.dataset.look") == "stage", "keys are off"


def test_a_narrow_screen_gets_larger_notes(studio: str, browser: Open) -> None:
    from playwright.sync_api import expect

    with browser(studio, width=390, height=844) as page:
        put_on_stand(page)
        expect(page.locator("#score svg")).to_have_count(6)
        page.set_viewport_size({"width": 844, "height": 390})
        expect(page.locator("#score svg")).to_have_count(3)


@pytest.mark.parametrize("look", ["paper", "stage"])
def test_what_comes_up_on_a_page_is_accessible_too(
    studio: str, browser: Open, take: Path, look: str
) -> None:
    with browser(studio, width=390, height=844, look=look) as page:
        page.goto("/shelf/new")
        page.get_by_label("The chart, as you would write it down").fill("| Fmajj7 |")
        page.get_by_role("button", name="Go to line 1").wait_for()
        assert findings(page) == [], "a chart with a fault"
        put_on_stand(page)
        page.get_by_label("A recording", exact=True).set_input_files(take)
        agrees = page.get_by_label("I agree that the recording is kept")
        if agrees.count():
            page.get_by_role("button", name="Record", exact=True).click()
            page.get_by_role("dialog").wait_for()
            assert findings(page) == [], "the question before the first recording"
            page.get_by_role("dialog").get_by_role("button", name="Not now").click()
            agrees.check()
        page.get_by_role("button", name="Send it", exact=True).click()
        agree(page)
        verdict_of(page)
        assert findings(page) == [], "a verdict"
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        page.reload()
        page.get_by_role("link", name=re.compile(r"^Take \d+$")).first.click()
        page.get_by_role("button", name="Delete this take").wait_for()
        assert findings(page) == [], "a take's own page"


@pytest.mark.parametrize("look", ["paper", "stage"])
def test_what_the_stand_opens_is_accessible_too(studio: str, browser: Open, look: str) -> None:
    """The tuner, the measuring of a device, a take that waits, a band that plays."""
    with browser(studio, width=390, height=844, look=look) as page:
        on_loop(page)
        page.locator("summary").get_by_text("Band", exact=True).click()
        page.locator("summary").get_by_text("Keys and sound").click()
        page.get_by_role("button", name="Tuner").click()
        page.get_by_text("Play a long note.").wait_for()
        assert findings(page) == [], "with everything open"
        page.get_by_role("button", name="Tuner").click()
        page.get_by_role("button", name="Measure this device").click()
        page.get_by_role("dialog").wait_for()
        assert findings(page) == [], "the measuring"
        page.get_by_role("dialog").get_by_role("button", name="Not now").click()
        page.get_by_role("button", name="Play", exact=True).click()
        page.locator(".bar.now").first.wait_for(state="attached", timeout=60_000)
        assert findings(page) == [], "while the band plays"
        assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize(("width", "height"), [(844, 390), (1180, 820), (390, 844), (1280, 800)])
def test_the_bar_that_sounds_is_in_sight(
    studio: str, browser: Open, width: int, height: int
) -> None:
    """In the last line of the page too: above the row of buttons, and below the top."""
    with browser(studio, width=width, height=height) as page:
        on_loop(page)
        page.get_by_label("from", exact=True).fill("12")
        page.get_by_role("button", name="Play", exact=True).click()
        lit = page.locator('.bar.now[data-bar="12"]')
        lit.wait_for(state="attached", timeout=60_000)
        bar, buttons = lit.bounding_box(), page.locator(".controls").bounding_box()
        assert bar["y"] >= 0
        assert bar["y"] + bar["height"] <= buttons["y"] + 1
        assert buttons["y"] + buttons["height"] <= height + 1


def test_the_rules_do_find_faults(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        page.goto("/")
        page.evaluate("document.querySelector('label[for=seed]').remove()")
        page.evaluate("document.querySelector('h1').style.color = '#e8e0d0'")
        found = " ".join(findings(page))
    assert "label (critical)" in found
    assert "color-contrast (serious)" in found
