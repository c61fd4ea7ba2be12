"""Lists of a book: contents and indexes in columns that are read line by line."""

import io

import pytest
from pypdf import PdfReader

from changewright.errors import EngineError
from changewright.page.book import BookHead, BookPage, typeset_pages
from changewright.page.book_matter import (
    Line,
    before_pages,
    chapter_items,
    list_pages,
    rights_pages,
)
from changewright.page.book_style import BookStyle, line_count

STYLE = BookStyle()
HEADING = chapter_items("Contents", STYLE)


def columns(lines, style=STYLE):
    return [
        [entry["text"] for entry in column]
        for page in list_pages(HEADING, lines, style)
        for item in page
        if item["kind"] == "columns"
        for column in item["columns"]
    ]


def test_few_lines_stand_in_one_column():
    assert columns([Line(f"{n}. Rope", n) for n in range(20)]) == [
        [f"{n}. Rope" for n in range(20)]
    ]


def test_a_short_group_is_not_parted_from_its_heading():
    groups = [
        [Line(f"{n}", strong=True), *(Line(f"{n}.{k}", k) for k in range(3))] for n in range(70)
    ]
    found = columns([line for group in groups for line in group])
    assert all("." not in column[0] for column in found)
    assert all(column[-1].endswith(".2") for column in found if column)
    long = [Line("long", strong=True), *(Line(f"long.{n}", n) for n in range(200))]
    assert sum(len(column) for column in columns(long)) == 201


def test_many_lines_stand_in_two_and_none_is_lost():
    lines = [Line(f"{n}. Rope", n) for n in range(333)]
    found = columns(lines)
    assert [text for column in found for text in column] == [line.text for line in lines]
    assert len(found) % 2 == 0
    assert max(map(len, found)) * 4.9 <= STYLE.text_height_mm


def test_a_heading_never_ends_a_column():
    lines = [Line("F", 1, strong=True), *(Line("x", 1) for _ in range(5))] * 40
    for column in columns(lines):
        if column:
            assert column[-1] != "F"


def test_a_long_title_is_cut_at_a_word():
    lines = [
        Line("Chord tones from the root up · A very long title of a chart indeed " * 3, 9)
    ] * 90
    (text, *_), *_ = columns(lines)
    assert text.endswith(" …")
    assert line_count(text, 9.5, 80) == 1


def test_the_rights_page_warns_where_nobody_knows():
    told = rights_pages(STYLE, "Ours.\n\nCopy them.", [("Rope", "", "unknown")], ["Rope"])
    texts = [item["text"] for page in told for item in page if item["kind"] == "paragraph"]
    assert "Ours." in texts
    assert "Copy them." in texts
    assert "Rope: rights unknown" in texts
    (warning,) = [t for t in texts if "not known" in t]
    assert "Rope" in warning
    (page,) = rights_pages(STYLE, "", [], [])
    assert not any("not known" in item.get("text", "") for item in page)


@pytest.mark.parametrize("size", ["usual", "large", "easy"])
def test_a_long_foreword_takes_the_pages_that_it_needs(size):
    style = BookStyle(size=size)
    foreword = "\n\n".join(["We meet on Thursdays above the boat shed. " * 30] * 6)
    pages = before_pages(style, foreword)
    charts = [(f"Rope {n}", "Quayside workshop", "own work") for n in range(150)]
    pages += rights_pages(style, "Ours. " * 600, charts, [])
    assert len(pages) > 4
    numbered = [BookPage(n, items) for n, items in enumerate(pages, start=1)]
    for page in numbered:
        continued = page.items[0]["kind"] != "heading"
        assert continued == (page.number not in (1, 1 + len(before_pages(style, foreword))))
    head = BookHead("Tides", "Quayside workshop", "Edition for flute")
    pdf = typeset_pages(head, style, numbered)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == len(pages)


def test_what_does_not_fit_on_a_page_is_not_printed():
    high = {"kind": "gap", "mm": 400}
    with pytest.raises(EngineError, match="pages 7 to 7"):
        typeset_pages(
            BookHead("Tides", "Quayside workshop", "Edition for flute"),
            STYLE,
            [BookPage(7, (*HEADING, high, *HEADING))],
        )
