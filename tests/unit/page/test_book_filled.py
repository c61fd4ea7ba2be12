"""A page that is filled to the last millimetre is still one page."""

import io

import pytest
from pypdf import PdfReader

from changewright.page.book import BookHead, BookPage, exercise_items, typeset_pages
from changewright.page.book_layout import LEAST_GAP_MM, Block, Slot, paginate
from changewright.page.book_style import BookStyle

DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 1"><path d="M0 0H9"/></svg>'
STYLE = BookStyle()


def content(number: int, block: Block) -> dict[str, object]:
    rows = [
        {"svg": DRAWING, "width_mm": 180, "height_mm": height, "alt": "Bar 1: F7"}
        for height in block.rows_mm
    ]
    return {
        "number": number,
        "title": "Ropes",
        "about": "Rope",
        "keys": "Concert F",
        "label": "ropes",
        "notes": [],
        "rows": rows,
        "head_mm": block.head_mm,
        "tail_mm": 0.0,
    }


@pytest.mark.parametrize("rows", [3, 5, 7, 9, 11])
def test_pages_of_any_filling_stay_single(rows):
    pages = []
    for number, spare in enumerate((0.0, 0.13, 1.37, 3.71, 7.77, 11.1, 19.3), start=1):
        # Heights and gaps that must be rounded, and a page that has just so much to spare.
        head = 20 + 1 / 3
        height = (STYLE.text_height_mm - head - spare) / rows - LEAST_GAP_MM
        block = Block(head, (height,) * rows, 0.0)
        assert paginate([block], STYLE.text_height_mm) == [[Slot(0, 0, rows)]]
        items = exercise_items(
            [Slot(0, 0, rows)], [block], {0: content(number, block)}, STYLE, level=1
        )
        pages.append(BookPage(number, items))
    pdf = typeset_pages(BookHead("Tides", "Quayside workshop", "Edition"), STYLE, pages)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == len(pages)


def test_rows_spread_no_further_than_is_good_to_read():
    block = Block(20.0, (25.0,) * 3, 0.0)
    items = exercise_items([Slot(0, 0, 3)], [block], {0: content(1, block)}, STYLE)
    gaps = [item["mm"] for item in items if item["kind"] == "gap"]
    assert gaps == [4.2] * 3
