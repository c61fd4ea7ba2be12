"""Listening notes on paper."""

import json

from changewright.errors import UnknownName
from changewright.page._typst import typeset_pdf, typeset_png
from changewright.page.heard import HeardPage, MeasureRow
from changewright.page.heard_rows import HeardRow, heard_rows
from changewright.page.lesson import PAPERS, Paper
from changewright.page.look import printable

__all__ = ["MEASURE_HEADS", "MEASURE_KEY", "heard_key", "heard_pdf", "heard_png", "measure_cells"]

MEASURE_HEADS = ("", "This take", "By chance", "Above chance", "On record", "Counted")
MEASURE_KEY = (
    "Nothing here is right or wrong, and there is no total. Shares are of 100. By chance: what "
    "notes drawn at random would give over these changes. Above chance: how much of the way from "
    "there to all. On record: four of five solos of the record lie between the outer two numbers, "
    "half of them below the middle one."
)

_KEY_BESIDE = (
    "Upper staff: what was heard, its rhythm rounded to eighths where it left the page. Lower "
    "staff: the exercise. In the picture the black line is your pitch, the open boxes are the "
    "notes asked for, and the grey bands the notes of the chord, each with its degree."
)
_KEY_ALONE = (
    "Staff: what was heard, its rhythm rounded to eighths. In the picture the black line is your "
    "pitch, and the grey bands are the notes of the chord, each with its degree."
)


def heard_pdf(page: HeardPage, *, paper: Paper = "a4") -> bytes:
    """Print listening notes as a tagged PDF (PDF/UA-1); pictures only, no sound.

    Raises :class:`UnknownName` for a paper that we don't have.
    """
    return typeset_pdf("heard.typ", _inputs(page, paper))


def heard_png(page: HeardPage, *, paper: Paper = "a4", dots_an_inch: float = 110) -> list[bytes]:
    """Listening notes as pictures, one a page."""
    return typeset_png("heard.typ", _inputs(page, paper), dots_an_inch)


def _inputs(page: HeardPage, paper: Paper) -> dict[str, str]:
    if paper not in PAPERS:
        raise UnknownName("paper", paper, PAPERS)
    content = {
        "title": printable(page.title) or "Listening notes",
        "for-whom": printable(page.for_whom),
        "description": printable(f"Listening notes on {page.title or 'a take'}"),
        "paper": PAPERS[paper],
        "questions": [printable(q) for q in page.questions],
        "headline": printable(page.headline),
        "said": [[printable(head), printable(text)] for head, text in page.said],
        "caveat": printable(page.caveat),
        "key": heard_key(page),
        "measure-key": MEASURE_KEY,
        "measure-heads": MEASURE_HEADS,
        "measures": [[printable(cell) for cell in measure_cells(m)] for m in page.measures],
        "rows": [_row_content(row) for row in heard_rows(page)],
    }
    return {"heard": json.dumps(content, ensure_ascii=False)}


def measure_cells(row: MeasureRow) -> tuple[str, ...]:
    """A measure's cells, as many as there are heads."""
    name = f"{row.name} ({row.word})" if row.word else row.name
    return name, row.value, row.chance, row.lift, row.record, row.counted


def heard_key(page: HeardPage) -> str:
    """What the staves and the picture mean, in words."""
    return _KEY_ALONE if page.exercise is None else _KEY_BESIDE


def _row_content(row: HeardRow) -> dict[str, object]:
    return {
        "title": row.title,
        "take": {"svg": row.take, "alt": row.take_words},
        "exercise": {"svg": row.exercise, "alt": row.exercise_words} if row.exercise else None,
        "picture": {"svg": row.picture, "alt": row.picture_words},
        "notes": [[str(n.number), printable(n.text)] for n in row.notes if n.text],
    }
