"""The teacher's journeys: from a chart as typed to a lesson, and to another one like it."""

import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from changewright.chart.musicxml_out import write_musicxml
from changewright.chart.shelf import shelf_chart
from tests.browser.conftest import Open
from tests.browser.journeys import add_player, make_lesson, until_made

pytestmark = pytest.mark.slow

MAKING_MS = 120_000
"""A lesson is made in a process that steps back for everything else."""

CHART = (
    "title: Low Tide Drill\nkey: F\ntempo: 100\n\n| Gm7 | C7 | F6 | D7 |\n| Gm7 | C7 | F6 | % |\n"
)


def test_from_a_typed_chart_to_a_printed_lesson(studio: str, browser: Open, tmp_path: Path) -> None:
    with browser(studio) as page:
        add_player(page, "Clarinet, Thursday", "clarinet")
        page.goto("/shelf")
        page.get_by_role("link", name="Type a new chart").click()
        text = page.get_by_label("The chart, as you would write it down")
        text.fill(CHART.replace("C7", "C77", 1))
        page.get_by_text("Bar 2: can't read").wait_for()
        page.get_by_role("button", name="Go to line 5").click()
        chosen = text.evaluate("t => t.value.slice(t.selectionStart)")
        assert chosen.startswith("7 | F6"), "the cursor stands at the sign too many"
        text.fill(CHART)
        page.get_by_text("F major, 8 bars").wait_for()
        assert page.locator(".reading svg").count() == 2
        page.get_by_role("button", name="Keep this version").click()
        page.get_by_text("Kept as version 1.").wait_for()
        page.get_by_role("link", name="Make a lesson of it").click()
        page.get_by_label("Player", exact=True).select_option(label="Clarinet, Thursday")
        page.get_by_role("button", name="Make the lesson").click()
        until_made(page)
        page.get_by_role("heading", name="Low Tide Drill").wait_for()
        with page.expect_download() as getting:
            page.get_by_role("link", name="Print it (PDF)").click()
        getting.value.save_as(tmp_path / "lesson.pdf")
    words = PdfReader(tmp_path / "lesson.pdf").pages[0].extract_text()
    assert "Low Tide Drill" in words
    assert "Clarinet, Thursday" in words


def test_another_harder_and_in_another_key(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        make_lesson(page)
        before = page.locator(".score").first.inner_html()
        page.get_by_role("button", name="Another one like it").click()
        page.get_by_text("seed 8").wait_for(timeout=MAKING_MS)
        assert page.locator(".score").first.inner_html() != before
        page.get_by_role("button", name="Harder").click()
        page.get_by_text("level 2,").wait_for(timeout=MAKING_MS)
        page.get_by_role("combobox", name="In").select_option("Bb")
        page.get_by_role("button", name="Other key").click()
        page.get_by_text("concert Bb").wait_for(timeout=MAKING_MS)
        page.get_by_role("button", name="Easier").click()
        page.get_by_text("level 1,").wait_for(timeout=MAKING_MS)
        page.get_by_role("link", name="Desk").click()
        rows = page.get_by_role("row", name=re.compile("Quayside Blues"))
        rows.nth(4).wait_for()  # the Desk may still be on its way
        assert rows.count() == 5


def test_a_lead_sheet_is_brought_in(studio: str, browser: Open, tmp_path: Path) -> None:
    score = tmp_path / "round.musicxml"
    score.write_text(write_musicxml(shelf_chart("rowlock-waltz")), encoding="utf-8")
    with browser(studio) as page:
        page.goto("/shelf")
        page.get_by_label("Bring in a MusicXML lead sheet").set_input_files(score)
        page.get_by_role("button", name="Bring in", exact=True).click()
        page.get_by_role("heading", name="Rowlock Waltz").wait_for()
        assert page.locator(".reading svg").count() >= 3


def test_a_lead_sheet_is_dropped_on_the_shelf(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        page.goto("/shelf")
        page.evaluate(
            """score => {
              const files = new DataTransfer();
              files.items.add(new File([score], "dropped.musicxml"));
              document.body.dispatchEvent(
                new DragEvent("drop", { dataTransfer: files, bubbles: true, cancelable: true }));
            }""",
            write_musicxml(shelf_chart("rowlock-waltz")),
        )
        page.get_by_role("heading", name="Rowlock Waltz").wait_for()
        page.get_by_label("The band plays it once").wait_for()


def test_a_reading_is_pinned_by_a_click(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        page.goto("/shelf/new")
        text = page.get_by_label("The chart, as you would write it down")
        text.fill("title: Pins\nkey: C\n\n| Cmaj7 | Fm7 | Bb7 | Cmaj7 |\n")
        page.get_by_text("C major, 4 bars").wait_for()
        row = page.locator(".reading .score svg").first
        box = row.bounding_box()
        row.click(position={"x": box["width"] * 0.37, "y": box["height"] / 2})
        assert page.get_by_label("Bar", exact=True).input_value() == "2"
        page.get_by_label("is in").select_option("Ab")
        page.get_by_role("button", name="Pin it").click()
        page.get_by_text("Bar 2 is pinned to Ab.").wait_for()
        assert "Fm7 <in Ab>" in text.input_value()
        page.get_by_role("button", name="Take the pin out").click()
        page.get_by_text("Bar 2 has no pin.").wait_for()
        assert "<in" not in text.input_value()
