"""Books made in turn, in a process of their own, the least urgent of all.

A book that was stopped goes on where it was: what is finished of it is kept among the results that
``changewright book`` keeps as well. One that a studio was killed over is taken up when it starts.
"""

import json
import logging
import shutil
from pathlib import Path
from typing import Any

from changewright.errors import ChangewrightError, EngineError
from changewright.jobs.bounded import Hand, Stopped
from changewright.jobs.kept import Kept, usual_folder
from changewright.jobs.running import Workers
from changewright.studio.bookcase import FILE
from changewright.studio.faults import fault_view
from changewright.studio.studio import Studio
from changewright.usecases.book import make_book
from changewright.usecases.book_file import read_book
from changewright.usecases.book_folder import write_book, write_book_zip

__all__ = ["book_state", "go_on", "take_up_books"]

_LOG = logging.getLogger(__name__)
_STOPPED: dict[str, Any] = {"state": "stopped"}
_TOO_LONG = {
    "what": "This book took more time or memory than a book may.",
    "remedy": "What is finished is kept. Try again to go on, or make two books of it.",
}
_BROKE = {
    "what": "This book could not be made: something went wrong in the studio itself.",
    "remedy": "What is finished is kept. Try again; what the studio prints where it was started "
    "says more.",
}


class _Halted(Exception):
    """Somebody wants the book to stop."""


def go_on(studio: Studio, name: str) -> None:
    """Have a book made, from where it was; nothing for one that is there."""
    if studio.books.manifest(name) is None:
        studio.books.go_on(name)
        studio.press.ask(name, lambda hand: _make(studio, hand, name))


def take_up_books(studio: Studio) -> int:
    """Go on with the books that a studio was stopped over; how many that are."""
    root = studio.folder.root / "books"
    for left in root.glob(".making-*") if root.is_dir() else ():
        shutil.rmtree(left, ignore_errors=True)
    books = studio.books
    waiting = [n for n in books.names() if books.manifest(n) is None and books.halted(n) is None]
    for name in reversed(waiting):
        go_on(studio, name)
    return len(waiting)


def book_state(studio: Studio, name: str) -> dict[str, Any]:
    """How far a book is: ``state`` made, failed, stopped, waiting or working, ``words``, and of a
    step what is ``done`` of the ``total``."""
    books = studio.books
    if (made := books.manifest(name)) is not None:
        return {"state": "made", "words": f"{made['pages']} pages are there."}
    if (halted := books.halted(name)) is not None:
        failed = halted["state"] == "failed"
        said = "It could not be made." if failed else "Stopped; what is finished is kept."
        return {"state": halted["state"], "words": said}
    if studio.press.standing(name).state == "waiting":
        return {"state": "waiting", "words": "Another book is made first."}
    told = books.progress(name)
    if told is None:
        return {"state": "working", "words": "It is being begun."}
    said = f"{told['step']}: {told['done']} of {told['total']}."
    return {"state": "working", "words": said, "done": told["done"], "total": told["total"]}


def _make(studio: Studio, hand: Hand, name: str) -> None:
    try:
        told = hand.do(_print, studio.books.path(name))
    except Stopped:
        told = {"state": "failed", "fault": fault_view(None) | _TOO_LONG}
    except Exception:
        # nobody waits for this work but a page that asks how far it is
        _LOG.exception("book %s could not be made", name)
        told = {"state": "failed", "fault": fault_view(None) | _BROKE}
    if told is not None:
        studio.books.halt(name, told)


def _print(folder: Path) -> dict[str, Any] | None:
    """Make a book in its folder. A fault travels as what a page shows of it: an error would not
    survive the way."""

    def heard(step: str, done: int, total: int) -> None:
        if (folder / "stop").exists() or not (folder / "told.json").exists():
            raise _Halted
        making = folder / "progress.making"
        making.write_text(json.dumps({"step": step, "done": done, "total": total}))
        making.replace(folder / "progress.json")

    file, kept = folder / "given" / FILE, Kept(usual_folder())
    try:
        with Workers(1) as hands:  # the other cores are for the pages and the takes
            book = make_book(read_book(file), kept, hands, progress=heard)
        heard("Writing it down", 0, 1)
        write_book_zip(book, kept, folder / "book.zip")
        write_book(book, kept, folder / "made")
        kept.trim()
    except _Halted:
        return _STOPPED
    except ChangewrightError as fault:
        if isinstance(fault, EngineError):
            _LOG.error("a book could not be made: %s", fault)
        told = {n: _here(v, file) for n, v in fault_view(fault).items()}
        return {"state": "failed", "fault": told}
    return None


def _here(value: Any, file: Path) -> Any:
    """Where a book lies on this machine is nobody's business."""
    return value.replace(str(file), FILE) if isinstance(value, str) else value
