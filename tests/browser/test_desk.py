"""The teacher's journeys with a player of the roster, and a student's on his own device."""

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from changewright.usecases.demo import DEMO
from tests.browser.conftest import _RUN, Open
from tests.browser.journeys import (
    add_player,
    make_lesson,
    put_on_stand,
    until_made,
    verdict_of,
    wrong_bars,
)
from tests.browser.test_looks import findings

pytestmark = pytest.mark.slow

WORDS = "four boats in a row"


@pytest.fixture
def open_studio(chromium: str, tmp_path: Path) -> Iterator[str]:
    """A studio with a password, as behind a proxy."""
    command = [sys.executable, "-c", _RUN, "studio", "--home", str(tmp_path), "--set-password"]
    subprocess.run(command, input=f"{WORDS}\n{WORDS}\n", text=True, check=True)
    command = [*command[:-1], "--port", "0", "--no-open", "--behind-proxy"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as served:
        assert served.stdout is not None
        yield served.stdout.readline().split()[-1].rstrip("/")
        served.terminate()


def send_take(page: Any, take: Path) -> dict[int, str]:
    """Send a recording at the foot of the Stand; the word for each bar."""
    page.get_by_label("A recording", exact=True).set_input_files(take)
    agree = page.get_by_label("I agree that the recording is kept")
    if agree.count():
        agree.check()
    page.get_by_role("button", name="Send it", exact=True).click()
    if page.get_by_role("dialog").is_visible():
        page.get_by_role("dialog").get_by_role("button", name="I agree").click()
    return verdict_of(page)


def test_from_a_player_to_a_printed_and_shared_lesson(
    open_studio: str, browser: Open, tmp_path: Path
) -> None:
    """Bar: under ten actions; each click, choice or field counts as one."""
    with browser(open_studio) as page:
        page.goto("/")
        page.get_by_label("The teacher's password").fill(WORDS)
        page.get_by_role("button", name="Come in").click()
        add_player(page)
        page.goto("/")
        actions = [
            page.get_by_role("link", name=DEMO.student, exact=True).first.click,
            lambda: page.get_by_label("Chart", exact=True).select_option("rowlock-waltz@0"),
            page.get_by_role("button", name="Make the lesson").click,
        ]
        for act in actions:
            act()
        until_made(page)
        with page.expect_download() as getting:
            page.get_by_role("link", name="Print it (PDF)").click()
        getting.value.save_as(tmp_path / "lesson.pdf")
        page.get_by_role("button", name="A link for the student").click()
        link = page.locator("code.long").inner_text()
        assert len(actions) + 2 < 10
        assert page.get_by_role("img", name="The same link as a code to scan").is_visible()
        assert findings(page) == [], "a lesson with its link"
        lesson = page.url.removesuffix("/invite")
    text = PdfReader(tmp_path / "lesson.pdf").pages[0].extract_text()
    assert "Rowlock Waltz" in text
    assert DEMO.student in text
    with browser(open_studio, width=390, height=844) as phone:
        phone.goto(link)
        phone.get_by_role("button", name="Play").wait_for()
        assert phone.url == f"{lesson}/1"
        phone.get_by_role("link", name="Your lessons").click()
        phone.get_by_role("heading", name="Rowlock Waltz").wait_for()
        assert findings(phone) == [], "a student's lessons"
        phone.goto("/")
        phone.get_by_role("heading", name="Who is there?").wait_for()
    with browser(open_studio) as page:
        page.goto("/login")
        page.get_by_label("The teacher's password").fill(WORDS)
        page.get_by_role("button", name="Come in").click()
        page.goto(lesson)
        page.get_by_role("button", name="Take back the link").click()
        page.get_by_role("heading", name=DEMO.student, level=1).wait_for()
    with browser(open_studio) as phone:
        phone.goto(link)
        phone.get_by_text("This link opens nothing").wait_for()


def test_a_take_is_heard_at_the_desk_and_corrected(studio: str, browser: Open, take: Path) -> None:
    with browser(studio) as page:
        stand = put_on_stand(page)
        verdict = send_take(page, take)
        assert {bar for bar, word in verdict.items() if word == "missed"} == wrong_bars()
        page.goto("/")
        section = page.get_by_role("region", name="To hear")
        section.get_by_role("link", name=re.compile(DEMO.student)).first.click()
        page.get_by_label("The take").wait_for()
        assert page.locator(".hearing .score svg").count() == 3, "the page stands beside it"
        assert findings(page) == [], "a take at the Desk"
        marked = page.locator(".hearing .bar.missed").evaluate_all(
            "all => all.map(e => Number(e.dataset.bar))"
        )
        assert set(marked) == wrong_bars(), "marked on the music"
        mended = min(wrong_bars())
        page.get_by_label(f"Bar {mended}, as you heard it").select_option("met")
        page.get_by_label("A note, for the player to read").fill("The low note was there.")
        page.get_by_role("button", name="Keep my word").click()
        chosen = page.get_by_label(f"Bar {mended}, as you heard it")
        assert chosen.input_value() == "met"
        page.evaluate("document.querySelector('audio').play()")
        page.wait_for_timeout(500)
        page.reload()
        page.get_by_text("Who listened").click()
        page.get_by_text("the teacher listened").first.wait_for()
        page.goto(stand)
        page.get_by_role("link", name=re.compile(r"^Take \d+$")).first.click()
        page.get_by_text("The low note was there.").wait_for()
        assert verdict_of(page)[mended] == "met", "the teacher's word stands"
        page.get_by_role("button", name="Delete this take").click()
        page.wait_for_url(stand)


def test_nothing_is_recorded_of_a_minor_before_a_guardian_agrees(
    studio: str, browser: Open
) -> None:
    with browser(studio) as page:
        add_player(page, "Clarinet, Monday", "clarinet", "13 to 15")
        player = page.url
        assert findings(page) == [], "a player's page"
        page.get_by_role("button", name="Make the lesson").click()
        until_made(page)
        page.get_by_role("link", name="Put it on the Stand").first.click()
        page.get_by_text("Nothing is recorded before a guardian has agreed").wait_for()
        assert page.get_by_role("button", name="Record", exact=True).is_disabled()
        stand = page.url
        page.goto(player)
        page.get_by_label("Who agreed in writing").fill("the mother")
        page.get_by_role("button", name="Note the consent").click()
        page.get_by_text("Given by the mother").wait_for()
        page.goto(stand)
        assert page.get_by_role("button", name="Record", exact=True).is_enabled()
        page.goto(player)
        page.get_by_role("button", name="It is withdrawn").click()
        page.get_by_label("Who agreed in writing").wait_for()
        page.goto(stand)
        assert page.get_by_role("button", name="Record", exact=True).is_disabled()


def test_a_printed_code_opens_its_exercise(studio: str, browser: Open) -> None:
    """The label of an exercise has slashes; the code's address is the page room's own."""
    from changewright.page.code import exercise_link
    from changewright.usecases.lesson import plan_lesson

    with browser(studio) as page:
        stand = put_on_stand(page)
        label = plan_lesson(DEMO).sheets[0].recipe.label
        page.goto(exercise_link(studio, label))
        page.get_by_role("button", name="Play").wait_for()
        assert page.url == stand


def test_the_week_is_seen_across_the_roster(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        add_player(page)
        page.goto("/week")
        plan = page.get_by_role("button", name="Plan the week of everybody who has none")
        plan.click()
        page.get_by_text("20 min").first.wait_for()
        assert not plan.is_visible()
        assert findings(page) == []
        page.get_by_role("link", name=DEMO.student).click()
        with page.expect_download() as getting:
            page.get_by_role("link", name="Print the week (PDF)").click()
        assert getting.value.suggested_filename == "week.pdf"


def test_the_desk_can_be_used_without_a_mouse(studio: str, browser: Open) -> None:
    """From the Desk's first link to a lesson being made, by Tab and Enter alone."""
    with browser(studio) as page:
        add_player(page)
        page.goto("/")
        press_until(page, DEMO.student)
        page.keyboard.press("Enter")
        page.get_by_role("heading", name=DEMO.student).wait_for()
        press_until(page, "Make the lesson")
        page.keyboard.press("Enter")
        until_made(page)
        assert make_lesson(page), "and the form by hand is still there"


def press_until(page: Any, name: str) -> None:
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText") == name:
            return
    raise AssertionError(f"Tab never came to {name!r}")
