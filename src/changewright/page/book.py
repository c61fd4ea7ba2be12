"""Pages of a book: what stands on each, and how they become a PDF.

A page is a list of items of known height, top to bottom; the template only sets them. A part is
a run of pages that is typeset by itself, so that parts can be made on all cores and kept.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from changewright.errors import EngineError
from changewright.page._typst import let_go, typeset_pdf
from changewright.page.book_layout import LEAST_GAP_MM, Block, Slot, taken_mm
from changewright.page.book_style import BookStyle
from changewright.page.language import language
from changewright.page.look import printable

__all__ = ["BookHead", "BookPage", "Content", "exercise_items", "typeset_pages"]

Content = dict[str, Any]

_MOST_GAP_MM, _MOST_BETWEEN_MM = 4.2, 11.0
_PAPERS = {"a4": "a4", "letter": "us-letter"}


@dataclass(frozen=True, slots=True)
class BookHead:
    """What every page of an edition says of the book."""

    title: str
    author: str
    edition: str
    note: str = ""
    dated: date | None = None

    @property
    def foot(self) -> str:
        """The edition and its date, for the foot of each page."""
        told = (self.edition, self.note, self.dated.isoformat() if self.dated else "")
        return printable(" · ".join(part for part in told if part))


@dataclass(frozen=True, slots=True)
class BookPage:
    """One page: its number, the chapter for its running head, the labels of its exercises, and
    its items; a ``bare`` page has neither head nor foot."""

    number: int
    items: tuple[Content, ...]
    chapter: str = ""
    labels: tuple[str, ...] = ()
    bare: bool = False


def typeset_pages(head: BookHead, style: BookStyle, pages: Sequence[BookPage]) -> bytes:
    """Set a run of pages as a tagged PDF; with a date in the head it is fit for archives.

    Raises :class:`EngineError` where a page would not hold what stands on it.
    """
    content = {
        "title": printable(head.title),
        "short-title": _short(printable(head.title)),
        "author": printable(head.author),
        "description": printable(head.edition),
        "foot": head.foot,
        "date": head.dated and [head.dated.year, head.dated.month, head.dated.day],
        "language": style.language,
        "look": style.look,
        "size": style.size,
        "scale": style.scale,
        "paper": _PAPERS[style.paper],
        "swing-words": language(style.language).lesson("long_short"),
        "pages": [_page(page, style) for page in pages],
    }
    inputs = {"book": json.dumps(content, ensure_ascii=False)}
    pdf = typeset_pdf("book.typ", inputs, archival=head.dated is not None)
    let_go()
    if pdf.count(b"/Type/Page/") != len(pages):
        numbers = f"{pages[0].number} to {pages[-1].number}"
        raise EngineError(f"something on pages {numbers} is higher than the page has room for")
    return pdf


def exercise_items(
    page: Sequence[Slot],
    blocks: Sequence[Block],
    contents: Mapping[int, Content],
    style: BookStyle,
    *,
    above: Sequence[Content] = (),
    above_mm: float = 0.0,
    level: int = 2,
) -> tuple[Content, ...]:
    """The items of a page of exercises, spread a little where the page has room to spare.

    ``contents`` are one reader's, by block; ``above`` stands at the head of the page.
    """
    spare = style.text_height_mm - above_mm - taken_mm(blocks, page)
    rows = sum(slot.end - slot.start for slot in page)
    more = min(max(spare, 0.0) / (rows + 2 * (len(page) - 1)), _MOST_GAP_MM - LEAST_GAP_MM)
    items = list(above)
    for place, slot in enumerate(page):
        content = contents[slot.block]
        if place:
            items.append({"kind": "gap", "mm": round(min(4.5 + 2 * more, _MOST_BETWEEN_MM), 2)})
        if slot.start == 0:
            items += _head(content, level)
        for row in content["rows"][slot.start : slot.end]:
            items += [{"kind": "row", **row}, {"kind": "gap", "mm": round(LEAST_GAP_MM + more, 2)}]
        if slot.end == len(blocks[slot.block].rows_mm) and content["notes"]:
            items.append({"kind": "notes", **_without_rows(content)})
    return tuple(items)


def _head(content: Content, level: int) -> list[Content]:
    """The head of an exercise, or a plain heading over scales."""
    if "heading" not in content:
        return [{"kind": "head", **_without_rows(content), "level": level}]
    height = round(content["head_mm"] - 3.0, 2)
    heading = {"level": level, "size": 14, "title": content["heading"], "height_mm": height}
    return [{"kind": "heading", **heading}, {"kind": "gap", "mm": 3.0}]


def _without_rows(content: Content) -> Content:
    return {key: value for key, value in content.items() if key != "rows"}


def _page(page: BookPage, style: BookStyle) -> Content:
    left, right = style.margins_mm(page.number)
    return {
        "number": page.number,
        "left_mm": left,
        "right_mm": right,
        "chapter": page.chapter,
        "labels": page.labels,
        "bare": page.bare,
        "items": page.items,
    }


def _short(title: str) -> str:
    return title if len(title) <= 60 else title[:59] + "…"
