"""Listening notes on paper."""

import json

from changewright.errors import UnknownName
from changewright.page._typst import typeset_pdf, typeset_png
from changewright.page.heard import HeardPage
from changewright.page.heard_rows import HeardRow, heard_rows
from changewright.page.lesson import PAPERS, Paper
from changewright.page.look import printable

__all__ = ["heard_key", "heard_pdf", "heard_png"]

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
        "rows": [_row_content(row) for row in heard_rows(page)],
    }
    return {"heard": json.dumps(content, ensure_ascii=False)}


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
