"""A plan as one printed page: a week, a lesson or a class, with room for the player's own words."""

import json
from dataclasses import dataclass
from typing import get_args

from changewright.errors import UnknownName
from changewright.page._typst import typeset_pdf, typeset_png
from changewright.page.language import language
from changewright.page.lesson import PAPERS, Paper
from changewright.page.look import printable

__all__ = ["PlanBox", "PlanEntry", "PlanSheet", "plan_pdf", "plan_png"]

MY_EARS = "My ears: what went well, and what next?"


@dataclass(frozen=True, slots=True)
class PlanEntry:
    """One thing to do: its minutes as text, what it is, tempos, instruction and reason; the
    ``strong`` ones are printed bold."""

    minutes: str
    title: str
    tempos: str = ""
    what: str = ""
    because: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class PlanBox:
    """A day, or a part of a lesson: its name, a note at the right, and what it holds."""

    title: str
    note: str
    entries: tuple[PlanEntry, ...]


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """A page: head, reasons for the whole, boxes in one or two columns, what to send, and how
    many ``lines`` are left for the player's own words, under the head ``ears``."""

    title: str
    for_whom: str
    boxes: tuple[PlanBox, ...]
    because: tuple[str, ...] = ()
    send: str = ""
    columns: int = 2
    lines: int = 3
    ears: str = MY_EARS


def plan_pdf(sheet: PlanSheet, *, paper: Paper = "a4") -> bytes:
    """Print a plan as a tagged PDF (PDF/UA-1), one page wherever its letters stay readable."""
    return typeset_pdf("plan.typ", _inputs(sheet, paper))


def plan_png(sheet: PlanSheet, *, paper: Paper = "a4", dots_an_inch: float = 110) -> list[bytes]:
    """A plan as pictures, one a page."""
    return typeset_png("plan.typ", _inputs(sheet, paper), dots_an_inch)


def _inputs(sheet: PlanSheet, paper: Paper) -> dict[str, str]:
    if paper not in get_args(Paper):
        raise UnknownName("paper", paper, PAPERS)
    content = {
        "title": printable(sheet.title) or "Plan",
        "description": printable(f"What to practise, and why, for {sheet.for_whom or 'a player'}"),
        "for-whom": printable(sheet.for_whom),
        "language": "en",
        "paper": PAPERS[paper],
        "reminder": language("en").lesson("reminder"),
        "because": [printable(reason) for reason in sheet.because],
        "boxes": [_box(box) for box in sheet.boxes],
        "send": printable(sheet.send),
        "columns": sheet.columns,
        "minutes-width": 0.7
        * max((len(e.minutes) for b in sheet.boxes for e in b.entries), default=1),
        "ears": printable(sheet.ears) if sheet.lines else "",
        "lines": sheet.lines,
    }
    return {"plan": json.dumps(content, ensure_ascii=False)}


def _box(box: PlanBox) -> dict[str, object]:
    return {
        "title": printable(box.title),
        "note": printable(box.note),
        "entries": [
            {
                "minutes": printable(entry.minutes),
                "title": printable(entry.title),
                "tempos": printable(entry.tempos),
                "what": printable(entry.what),
                "because": printable(entry.because),
                "strong": entry.strong,
            }
            for entry in box.entries
        ],
    }
