"""A page that is filled to the last millimetre is still one page."""

import io
from itertools import count

import pytest
from pypdf import PdfReader

from changewright.page.book import BookHead, BookPage, exercise_items, typeset_pages
from changewright.page.book_layout import Block, Slot, paginate
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


@pytest.mark.parametrize("rows", [1, 2, 3, 5])
def test_pages_of_any_filling_stay_single(rows):
    numbers = count(1)
    pages = []
    for short in range(12):
        # Heights that end in thirds of a millimetre, so that everything must be rounded.
        height = STYLE.text_height_mm / (2 * rows) - 14.3 - short / 3
        if height < 5:
            continue
        blocks = [Block(20 + 1 / 3, (height,) * rows, 0.0)] * 2
        laid = paginate(blocks, STYLE.text_height_mm)
        contents = {n: content(n + 1, block) for n, block in enumerate(blocks)}
        pages += [
            BookPage(next(numbers), exercise_items(page, blocks, contents, STYLE, level=1))
            for page in laid
        ]
    pdf = typeset_pages(BookHead("Tides", "Quayside workshop", "Edition"), STYLE, pages)
    assert len(PdfReader(io.BytesIO(pdf)).pages) == len(pages) > 0


def test_rows_spread_no_further_than_is_good_to_read():
    block = Block(20.0, (25.0,) * 3, 0.0)
    items = exercise_items([Slot(0, 0, 3)], [block], {0: content(1, block)}, STYLE)
    gaps = [item["mm"] for item in items if item["kind"] == "gap"]
    assert gaps == [4.2] * 3
