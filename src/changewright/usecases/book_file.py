"""Read a book's TOML file; a fault names its line and key, and what to write instead."""

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from changewright.chart.chart import Chart
from changewright.errors import InputError, Place, UnknownName
from changewright.lesson.family import family
from changewright.lesson.level import level
from changewright.page.book_style import PAPER_SIZES, PRINTS, BookStyle
from changewright.page.language import languages
from changewright.page.look import LOOKS
from changewright.theory.pitch import Name
from changewright.usecases.book_editions import Edition, edition
from changewright.usecases.book_plan import ORDERS, BookPlan, Entry, keys_in_order
from changewright.usecases.charts import open_chart, parse_key

__all__ = ["BOOK_KEYS", "ENTRY_KEYS", "EXTRAS", "MOST_EXERCISES", "read_book", "with_paper"]

MOST_EXERCISES = 5000
EXTRAS = ("musicxml", "midi", "audio")
"""What may come with the pages."""

_MOST_BYTES = 1_000_000
_TABLE = re.compile(r"^\s*(\[\[?)\s*([A-Za-z0-9_.-]+)\s*\]")
_PAIR = re.compile(r"^\s*([A-Za-z0-9_-]+)\s*=")
BOOK_KEYS = (
    "title", "subtitle", "author", "note", "date", "rights", "foreword", "language", "look",
    "print", "paper", "keys", "first_key", "editions", "seed", "answers", "scales", "listen",
    "include", "exercises",
)  # fmt: skip
ENTRY_KEYS = ("charts", "levels", "families", "seed", "tempo", "relax")
"""What a book's file may say at its head, and below each ``[[exercises]]``."""


def read_book(path: Path) -> BookPlan:
    """Read a book's file; charts are found beside it, or on the shelf by name.

    Raises :class:`InputError` that names file, line and key, and says what to write.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise InputError("the file is too long for a book", where=Place(file=str(path)))
        text = path.read_text("utf-8")
        table = tomllib.loads(text)
    except OSError as fault:
        raise InputError(
            f"can't read the book: {fault.strerror}",
            where=Place(file=str(path)),
            remedy="Name the TOML file that describes the book.",
        ) from fault
    except UnicodeDecodeError as fault:
        raise InputError(
            "the book is not UTF-8 text", where=Place(file=str(path)), remedy="Save it as UTF-8."
        ) from fault
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        raise _not_toml(str(fault), path) from fault
    return _plan(_Table(table, path, _lines(text)))


def with_paper(plan: BookPlan, paper: str) -> BookPlan:
    """The same book on another paper; raises :class:`UnknownName`."""
    for known in PAPER_SIZES:
        if paper.lower() == known:
            return replace(plan, style=replace(plan.style, paper=known))
    raise UnknownName("paper", paper, PAPER_SIZES)


def _not_toml(said: str, path: Path) -> InputError:
    match = re.search(r"\(at line (\d+), column (\d+)\)", said)
    where = Place(file=str(path), line=int(match[1]), column=int(match[2])) if match else None
    what = said.partition(" (at")[0] or "nested too deeply"
    return InputError(
        f"not TOML: {what[:1].lower()}{what[1:]}",
        where=where or Place(file=str(path)),
        remedy='Write each line as  key = value,  texts in quotes: title = "Twelve keys".',
    )


def _lines(text: str) -> dict[tuple[str | int, ...], int]:
    """On which line each key of the file stands, from 1."""
    found: dict[tuple[str | int, ...], int] = {}
    seen: dict[str, int] = {}
    inside: tuple[str | int, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        table, pair = _TABLE.match(line), _PAIR.match(line)
        if table:
            name = table[2]
            inside = (name,)
            if table[1] == "[[":
                inside = (name, seen.get(name, 0))
                seen[name] = seen.get(name, 0) + 1
            found.setdefault(inside, number)
        elif pair:
            found.setdefault((*inside, pair[1]), number)
    return found


@dataclass(frozen=True, slots=True)
class _Table:
    """A table of the file, and where it stands in it."""

    values: Mapping[str, Any]
    path: Path
    lines: Mapping[tuple[str | int, ...], int]
    inside: tuple[str | int, ...] = ()

    @property
    def line(self) -> int | None:
        """The line on which the table begins."""
        return self.lines.get(self.inside)

    def fault(self, key: str, what: str, remedy: str) -> InputError:
        """A fault at a key of this table."""
        line = self.lines.get((*self.inside, key), self.line)
        return InputError(
            f"{key}: {what}", where=Place(file=str(self.path), line=line), remedy=remedy
        )

    def known(self, keys: tuple[str, ...]) -> None:
        """Refuse a key that no book has."""
        for key in self.values:
            if key not in keys:
                raise self.fault(key, "no such key here", f"The keys are {', '.join(keys)}.")

    def text(self, key: str, default: str | None = None, most: int = 200) -> str:
        """A text; without a default it must be there."""
        value = self.values.get(key, default)
        if not isinstance(value, str) or not (value.strip() or value == default):
            raise self.fault(
                key, _missing_or("is not a text", value), f'Write  {key} = "..."  in quotes.'
            )
        if len(value) > most:
            raise self.fault(key, f"is longer than {most} letters", "Shorten it.")
        return value.strip()

    def choice(self, key: str, default: str, known: tuple[str, ...]) -> Any:
        """One of a few words."""
        value = self.values.get(key, default)
        if value not in known:
            raise self.fault(key, f"can't be {value!r}", f"Write one of {', '.join(known)}.")
        return value

    def whole(self, key: str, default: int | None, low: int, high: int) -> Any:
        """A whole number, or the default."""
        value = self.values.get(key, default)
        if value is None or (type(value) is int and low <= value <= high):
            return value
        raise self.fault(key, f"can't be {value!r}", f"Write a whole number from {low} to {high}.")

    def truth(self, key: str, default: bool) -> bool:
        """True or false."""
        value = self.values.get(key, default)
        if not isinstance(value, bool):
            raise self.fault(key, f"can't be {value!r}", "Write true or false, without quotes.")
        return value

    def each(
        self, key: str, read: Callable[[Any], Any], example: str, most: int = 100
    ) -> tuple[Any, ...]:
        """A list, each of its values read; what ``read`` refuses is told at this key."""
        value = self.values.get(key)
        if not isinstance(value, list) or not 1 <= len(value) <= most:
            raise self.fault(
                key,
                _missing_or(f"is not a list of 1 to {most}", value),
                f"Write  {key} = {example}",
            )
        found = []
        for one in value:
            try:
                found.append(read(one))
            except InputError as fault:
                raise self.fault(key, str(fault.what), fault.remedy) from fault
            except (TypeError, AttributeError, ValueError) as fault:
                raise self.fault(key, f"can't use {one!r}", f"Write  {key} = {example}") from fault
        return tuple(dict.fromkeys(found))


def _missing_or(what: str, value: object) -> str:
    return "is missing" if value is None else what


def _plan(book: _Table) -> BookPlan:
    book.known(BOOK_KEYS)
    seed = book.whole("seed", 1, 0, 2**31)
    plan = BookPlan(
        title=book.text("title", most=100),
        subtitle=book.text("subtitle", ""),
        author=book.text("author", most=100),
        note=book.text("note", "", 60),
        rights=book.text("rights", "", 4000),
        foreword=book.text("foreword", "", 4000),
        dated=_dated(book),
        entries=_entries(book, seed),
        tonics=_tonics(book),
        editions=_editions(book),
        style=_style(book),
        answers=book.truth("answers", True),
        scales=book.truth("scales", True),
        extras=_extras(book),
        file=str(book.path),
    )
    count = sum(1 for _ in zip(plan.pieces(), range(MOST_EXERCISES + 1), strict=False))
    if count > MOST_EXERCISES:
        raise book.fault(
            "exercises", f"make more than {MOST_EXERCISES} exercises", "Make two books of it."
        )
    return plan


def _style(book: _Table) -> BookStyle:
    code = book.choice("language", "en", tuple(languages()))
    return BookStyle(
        look=book.choice("look", "plain", LOOKS),
        size=book.choice("print", "usual", PRINTS),
        paper=book.choice("paper", "a4", PAPER_SIZES),
        language=code,
        listen=book.truth("listen", True),
    )


def _dated(book: _Table) -> date | None:
    value = book.values.get("date")
    if value is None or type(value) is date:
        return value
    raise book.fault("date", f"can't be {value!r}", "Write it like  date = 2026-01-08")


def _tonics(book: _Table) -> tuple[Name, ...]:
    keys = book.values.get("keys", "fourths")
    if isinstance(keys, list):
        found = book.each("keys", lambda one: parse_key(one).tonic, '["F", "Bb", "Eb"]', 12)
        return tuple(found)
    order = book.choice("keys", "fourths", ORDERS)
    first = book.text("first_key", "C")
    try:
        return keys_in_order(order, parse_key(first).tonic)
    except InputError as fault:
        raise book.fault("first_key", fault.what, fault.remedy) from fault


def _editions(book: _Table) -> tuple[Edition, ...]:
    return book.each("editions", edition, '["C treble", "B-flat", "clarinet"]', 24)


def _extras(book: _Table) -> tuple[str, ...]:
    if book.values.get("include") in (None, []):
        return ()

    def read(one: str) -> str:
        if one not in EXTRAS:
            raise ValueError
        return one

    return book.each("include", read, '["musicxml", "midi", "audio"]')


def _entries(book: _Table, seed: int) -> tuple[Entry, ...]:
    value = book.values.get("exercises")
    if not isinstance(value, list) or not value or not all(isinstance(v, dict) for v in value):
        raise book.fault(
            "exercises",
            _missing_or("are not tables", value),
            "Write  [[exercises]]  and below it charts, levels and families, such as\n"
            'charts = ["quayside-blues"]\nlevels = [1]\nfamilies = ["root-up"]',
        )
    return tuple(
        _entry(_Table(one, book.path, book.lines, ("exercises", number)), seed)
        for number, one in enumerate(value)
    )


def _entry(table: _Table, seed: int) -> Entry:
    table.known(ENTRY_KEYS)
    levels = table.each("levels", _rung, "[1]", 8)

    def read(name: str) -> str:
        found, _ = family(name)
        if found.since > min(levels):
            raise InputError(
                f"{name} begins at level {found.since}",
                remedy=f"Raise the levels to {found.since} or more, or take {name} out.",
            )
        return name

    return Entry(
        charts=table.each("charts", lambda name: _chart(name, table.path), '["quayside-blues"]'),
        levels=levels,
        families=table.each("families", read, '["root-up", "guide-tones"]'),
        seed=table.whole("seed", seed, 0, 2**31),
        tempo_bpm=table.whole("tempo", None, 20, 400),
        relax=table.truth("relax", False),
        line=table.line or 0,
    )


def _rung(number: object) -> int:
    if type(number) is not int:
        raise TypeError
    return level(number).number


def _chart(name: str, book: Path) -> Chart:
    beside = book.parent / name
    chart = open_chart(str(beside) if beside.is_file() else name)
    if chart.key is None:
        raise InputError(
            f"the chart {name!r} names no key, so it can't be moved to others",
            remedy="Write a line such as  key: F  into the chart.",
        )
    return chart
