"""A roster from a table: one player a row, every fault named by its line."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from changewright.errors import InputError, Place, RosterError
from changewright.plan.week import WEEKDAYS
from changewright.store.records import ADULT, Student
from changewright.store.store import Store
from changewright.usecases.roster import check_player

__all__ = ["COLUMNS", "BadRow", "Imported", "import_roster", "read_days", "read_roster"]

COLUMNS = (
    "nickname", "instrument", "level", "age band", "goals", "constraints", "minutes", "days",
    "lesson", "home key", "reading",
)  # fmt: skip
"""Columns of a roster in CSV; the first two are needed, in any order and case."""

_NEEDED = COLUMNS[:2]
_MOST_BYTES, _MOST_ROWS = 1_000_000, 5_000


@dataclass(frozen=True, slots=True)
class BadRow:
    """A row that can't be used: its line in the file, and what is wrong with it."""

    line: int
    fault: str


@dataclass(frozen=True, slots=True)
class Imported:
    """What came of an import: the players who are on the roster now, and the bad rows."""

    added: tuple[Student, ...]
    bad: tuple[BadRow, ...]


def import_roster(store: Store, path: Path, *, keep_good: bool = False) -> Imported:
    """Bring players in from a CSV file, as one edit to take back.

    Where a row is bad nobody comes in, unless ``keep_good``: then the others do. Raises
    :class:`RosterError` for a file that is no such table.
    """
    good, bad = read_roster(path, [s.nickname for s in store.all(Student)])
    if (bad and not keep_good) or not good:
        return Imported((), bad)
    return Imported(store.add_all([student for _, student in good]), bad)


def read_roster(
    path: Path, taken: list[str]
) -> tuple[tuple[tuple[int, Student], ...], tuple[BadRow, ...]]:
    """The players of a CSV file with their lines, and the bad rows; ``taken`` nicknames are."""
    rows = _rows(path)
    names = {_folded(name) for name in taken}
    good: list[tuple[int, Student]] = []
    bad: list[BadRow] = []
    for line, row in rows:
        try:
            student = check_player(_student(row))
            if _folded(student.nickname) in names:
                raise RosterError(f"the nickname {student.nickname!r} is taken")
        except InputError as fault:
            bad.append(BadRow(line, str(fault).replace("\n", " ")))
        else:
            names.add(_folded(student.nickname))
            good.append((line, student))
    return tuple(good), tuple(bad)


def read_days(text: str) -> tuple[int, ...]:
    """Weekdays as people write them: ``Mon Tue Fri`` or ``monday, friday``; raises
    :class:`RosterError`."""
    found = []
    for word in text.replace(",", " ").replace(";", " ").split():
        near = [n for n, day in enumerate(WEEKDAYS) if day.lower().startswith(word.lower())]
        if len(near) != 1 or len(word) < 2:
            raise RosterError(f"unknown day {word!r}", remedy=f"Known: {', '.join(WEEKDAYS)}.")
        found.append(near[0])
    return tuple(sorted(set(found)))


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    place = Place(file=path.name)
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise RosterError("larger than any roster", where=place)
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise RosterError(
            f"can't be read: {fault}", where=place, remedy="Save it as CSV in UTF-8."
        ) from fault
    first = text.partition("\n")[0]
    mark = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        head = [_folded(cell) for cell in next(reader, [])]
        _check_head(head, place)
        rows = [
            (reader.line_num, dict(zip(head, r, strict=False)), len(r)) for r in reader if any(r)
        ]
    except csv.Error as fault:
        raise RosterError(
            f"no table: {fault}", where=Place(file=path.name, line=reader.line_num),
            remedy="Close every quote that is opened.",
        ) from fault  # fmt: skip
    if len(rows) > _MOST_ROWS:
        raise RosterError(f"{len(rows)} rows are more than any roster has", where=place)
    return [(line, row | {"": "more cells than columns"} if n > len(head) else row)
            for line, row, n in rows]  # fmt: skip


def _check_head(head: list[str], place: Place) -> None:
    unknown = [name for name in head if name not in COLUMNS]
    missing = [name for name in _NEEDED if name not in head]
    if unknown or missing or len(set(head)) != len(head):
        what = f"unknown columns {unknown}" if unknown else f"missing columns {missing}"
        raise RosterError(
            what if unknown or missing else "a column twice",
            where=Place(file=place.file, line=1),
            remedy=f"The first line names columns: {', '.join(COLUMNS)}.",
        )


def _student(row: dict[str, str]) -> Student:
    if "" in row:
        raise RosterError(row[""], remedy="Put cells with commas into quotes.")
    cell = {name: " ".join(row.get(name, "").split()) for name in COLUMNS}
    for needed in _NEEDED:
        if not cell[needed]:
            raise RosterError(f"no {needed}")
    lesson = read_days(cell["lesson"] or "Thursday")
    if len(lesson) != 1:
        raise RosterError(f"one day for the lesson, not {cell['lesson']!r}")
    return Student(
        nickname=cell["nickname"],
        instrument=cell["instrument"],
        level=_number(cell["level"] or "1", "level"),
        age_band=cell["age band"].lower() or ADULT,
        goals=cell["goals"],
        constraints=cell["constraints"],
        minutes=_number(cell["minutes"] or "20", "minutes"),
        days=read_days(cell["days"] or "Mon Tue Wed Fri Sat"),
        lesson_day=lesson[0],
        home_key=cell["home key"],
        reading=_number(cell["reading"] or "2", "reading"),
    )


def _number(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 5):
        raise RosterError(f"{what} {text!r} is no whole number")
    return int(text)


def _folded(text: str) -> str:
    return " ".join(text.lower().split())
