"""The books of a studio: what was given in, how far each is, and what came of it.

::

    books/5c1e.../given/book.toml          the book's file, as the teacher wrote it
    books/5c1e.../given/low-water-blues    the teacher's own charts that it names, as they were then
    books/5c1e.../told.json                its title, and how many exercises it has
    books/5c1e.../progress.json            how far it is
    books/5c1e.../stop                     somebody wants it to stop
    books/5c1e.../halted.json              that it was stopped, or why it could not be made
    books/5c1e.../made/                    the book as ``changewright book`` writes it
    books/5c1e.../book.zip                 the same in one file
"""

import json
import shutil
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from changewright.chart.shelf import shelf
from changewright.errors import InputError, NotKept, Place
from changewright.studio.folder import Folder
from changewright.studio.shapes import BOOK
from changewright.usecases.book_file import read_book
from changewright.usecases.book_folder import BOOK_MARKER

__all__ = ["FILE", "MOST_BOOKS", "MOST_TEXT", "Bookcase"]

MOST_TEXT = 200_000
"""The longest book's file, in bytes: thousands of lines."""

MOST_BOOKS = 100
"""How many books a studio holds."""

FILE = "book.toml"
"""The book's file in its folder, and what a fault calls it."""


@dataclass(frozen=True, slots=True)
class Bookcase:
    """The books in a studio's folder."""

    folder: Folder

    def keep(self, text: str) -> str:
        """Keep a book's file with the charts of the Shelf that it names; its name here.

        The same file over the same charts is the same book. Raises :class:`InputError` at the
        line where the file can't be used.
        """
        charts = self._charts(text)
        told = json.dumps([text, sorted(charts.items())])
        name = sha256(told.encode()).hexdigest()[:16]
        at = self._at(name)
        if at.is_dir():
            return name
        if len(self.names()) >= MOST_BOOKS:
            raise InputError(
                f"there are {MOST_BOOKS} books already", remedy="Delete one that nobody needs."
            )
        at.parent.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(prefix=".making-", dir=at.parent) as making:
            whole = Path(making) / name
            given = whole / "given"
            given.mkdir(parents=True)
            (given / FILE).write_text(text, encoding="utf-8")
            for chart, words in charts.items():
                (given / chart).write_text(words, encoding="utf-8")
            plan = read_book(given / FILE)
            head = {"title": plan.title, "exercises": sum(1 for _ in plan.pieces())}
            (whole / "told.json").write_text(json.dumps(head), encoding="utf-8")
            whole.rename(at)
        return name

    def _charts(self, text: str) -> dict[str, str]:
        """The teacher's own charts that a book names. PITFALL: the book's reader opens whatever
        file a name leads to; here only what is on the Shelf may be named."""
        own, charts = set(self.folder.own_charts()), {}
        for name in _named(text):
            if name in own:
                charts[name] = self.folder.chart_text(name, self.folder.versions(name)[0])
            elif name not in shelf():
                raise InputError(
                    f"charts: there is no chart {name[:60]!r} on the Shelf",
                    where=Place(FILE, _line_of(name, text)),
                    remedy="Write a chart's name as its address on the Shelf ends, or keep it "
                    "there first.",
                )
        return charts

    def names(self) -> tuple[str, ...]:
        """The names of all books, the latest first."""
        at = self.folder.root / "books"
        found = [p.parent for p in at.glob("*/told.json") if BOOK.fullmatch(p.parent.name)]
        latest = sorted(found, key=lambda p: (-(p / "told.json").stat().st_mtime_ns, p.name))
        return tuple(p.name for p in latest)

    def path(self, name: str) -> Path:
        """Where a book lies; raises :class:`NotKept` where there is none."""
        at = self._at(name)
        if not (at / "told.json").is_file():
            raise NotKept("there is no such book", remedy="Give its file in at the Desk.")
        return at

    def told(self, name: str) -> dict[str, Any]:
        """Its ``title`` and how many ``exercises`` it has."""
        return dict(_read(self.path(name) / "told.json") or {})

    def text(self, name: str) -> str:
        """The book's file as it was given in."""
        return (self.path(name) / "given" / FILE).read_text("utf-8")

    def manifest(self, name: str) -> dict[str, Any] | None:
        """What a finished book holds; None for one that isn't finished."""
        return _read(self.path(name) / "made" / BOOK_MARKER)

    def halted(self, name: str) -> dict[str, Any] | None:
        """``state`` "stopped", or "failed" with a ``fault``; None where it goes on."""
        return _read(self.path(name) / "halted.json")

    def progress(self, name: str) -> dict[str, Any] | None:
        """The ``step`` that is being done, how much of it is ``done``, and the ``total``."""
        return _read(self.path(name) / "progress.json")

    def halt(self, name: str, told: dict[str, Any]) -> None:
        """Note that a book was stopped, or why it could not be made; nothing if it was deleted."""
        at = self._at(name)
        if (at / "told.json").is_file():
            (at / "halted.json").write_text(json.dumps(told), encoding="utf-8")

    def stop(self, name: str) -> None:
        """Ask whoever makes a book to stop at the next step."""
        (self.path(name) / "stop").touch()

    def go_on(self, name: str) -> None:
        """Forget that a book was stopped or could not be made."""
        for note in ("stop", "halted.json", "progress.json"):
            (self.path(name) / note).unlink(missing_ok=True)

    def delete(self, name: str) -> None:
        """Delete a book with all that came of it."""
        self.stop(name)
        shutil.rmtree(self.path(name), ignore_errors=True)

    def _at(self, name: str) -> Path:
        if not BOOK.fullmatch(name):
            raise NotKept("there is no such book", remedy="Give its file in at the Desk.")
        return self.folder.root / "books" / name


def _named(text: str) -> Iterator[str]:
    """The charts that a book's file names; of a broken file none, its reader says why."""
    try:
        entries = tomllib.loads(text).get("exercises")
    except (tomllib.TOMLDecodeError, RecursionError):
        return
    for entry in entries if isinstance(entries, list) else ():
        charts = entry.get("charts") if isinstance(entry, dict) else None
        yield from (
            (one for one in charts or () if isinstance(one, str))
            if isinstance(charts, list)
            else ()
        )


def _line_of(name: str, text: str) -> int | None:
    lines = enumerate(text.splitlines(), start=1)
    return next((number for number, line in lines if name in line), None)


def _read(path: Path) -> dict[str, Any] | None:
    try:
        told: dict[str, Any] = json.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return None
    return told
