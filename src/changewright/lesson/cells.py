"""Rhythm cells: what one bar may hold, in any meter."""

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache, reduce
from importlib.resources import files
from itertools import product
from math import ceil

import numpy as np

from changewright.lesson.level import Level
from changewright.line.slot import Ints
from changewright.music.bar import Bar, Meter, Quarters

__all__ = [
    "GRID",
    "Cell",
    "CellSet",
    "breath_of",
    "cells_for",
    "centre_of",
    "pulse_of",
    "rhythm_names",
]

GRID = 24
"""Columns count in 24ths of a quarter."""

_ALIKE = 1
"""How many joined cells are kept of those that serve a line alike."""

_LENGTHS = {
    "four": Fraction(4),
    "three": Fraction(3),
    "two": Fraction(2),
    "one": Fraction(1),
    "three-eighths": Fraction(3, 2),
    "six-eighths": Fraction(3),
}


@dataclass(frozen=True, slots=True)
class Cell:
    """The rhythm of one bar: (offset, duration) of each note; the last may reach over the bar."""

    notes: tuple[tuple[Quarters, Quarters], ...]
    length: Quarters

    @property
    def first(self) -> Quarters:
        """Where the first note starts; the bar's length where there is none."""
        return self.notes[0][0] if self.notes else self.length

    @property
    def end(self) -> Quarters:
        """Where the last note ends."""
        return self.notes[-1][0] + self.notes[-1][1] if self.notes else Fraction(0)

    @property
    def words(self) -> str:
        """The rhythm for a person: where its notes start, in quarters from 1."""
        beats = ", ".join(f"{float(1 + offset):g}" for offset, _ in self.notes)
        return f"a rhythm on {beats}" if beats else "silence"

    def eighths_to(self, end: Quarters) -> int:
        """How many eighths run up to an offset without a break."""
        count = 0
        for offset, duration in reversed([n for n in self.notes if n[0] < end]):
            if offset + duration != end or duration != Fraction(1, 2):
                break
            count, end = count + 1, offset
        return count

    def fitted(self, length: Quarters) -> "Cell":
        """The cell in a bar of another length, clipped; ties only survive where it is the same."""
        if length == self.length:
            return self
        kept = ((o, min(d, length - o)) for o, d in self.notes if o < length)
        return Cell(tuple(kept), length)

    def then(self, other: "Cell") -> "Cell":
        """This cell with another after it in the same bar."""
        moved = tuple((self.length + o, d) for o, d in other.notes)
        return Cell(self.notes + moved, self.length + other.length)


@dataclass(frozen=True, eq=False)
class CellSet:
    """The cells for a bar, with the columns that rules read of them."""

    cells: tuple[Cell, ...]
    columns: tuple[tuple[str, tuple[int, ...]], ...]

    @cached_property
    def fullest(self) -> int:
        """The most notes of any cell."""
        return max(dict(self.columns)["count"])

    @cached_property
    def arrays(self) -> dict[str, Ints]:
        """The columns as arrays."""
        return {name: np.array(numbers) for name, numbers in self.columns}


def pulse_of(meter: Meter) -> Quarters:
    """The beat that is felt: three eighths in 6/8, 9/8 and 12/8, else the notated one."""
    return 3 * meter.beat if meter.unit >= 8 and meter.beats % 3 == 0 else meter.beat


def centre_of(bar: Bar) -> Quarters:
    """The offset of the bar's second strong beat: three in 4/4 and 3/4, four in 5/4."""
    names = _groups(bar.meter, bar.length)
    if len(names) > 1:
        starts = _starts(names)
        return min(starts[1:], key=lambda at: abs(2 * at - bar.length))
    if names in (("three",), ("three-eighths",)):
        return bar.length * 2 / 3
    return bar.length / 2


def breath_of(bar: Bar, longer: bool = False) -> Quarters:
    """A rest in which to breathe at a bar's end: a beat, or ``longer`` about half the bar."""
    pulse = pulse_of(bar.meter)
    if bar.length < 2:
        return Fraction(1, 2)
    if not longer:
        return max(Fraction(1), min(pulse, bar.length / 2))
    whole = bar.length / 2 // pulse * pulse
    return max(Fraction(1), whole)


def cells_for(level: Level, bar: Bar) -> CellSet:
    """The cells that a level allows in a bar: the empty one first, the level's own rhythms, and
    long notes for endings."""
    return _cells_for(
        level.rhythms,
        level.shortest,
        level.notes_a_bar,
        _groups(bar.meter, bar.length),
        bar.length,
        centre_of(bar),
    )


def rhythm_names() -> tuple[str, ...]:
    """The names of the rhythms that a level may ask for, in order."""
    return tuple(dict.fromkeys(name for rows in _vocabulary().values() for name in rows))


def _groups(meter: Meter, length: Quarters) -> tuple[str, ...]:
    """The tables whose cells make up a bar, in order; one too short or odd is a clipped four."""
    if pulse_of(meter) == Fraction(3, 2) and length % Fraction(3, 2) == 0:
        sixes, three = divmod(length / 3, 1)
        return ("six-eighths",) * sixes + ("three-eighths",) * bool(three)
    if length.denominator == 2 and length > 2:
        return (*_whole(length - Fraction(3, 2)), "three-eighths")
    return _whole(length) if length.denominator == 1 else ("four",)


def _whole(length: Quarters) -> tuple[str, ...]:
    """Quarters in groups: fours, then threes; six is two threes, five is three and two."""
    if length <= 4:
        return (("", "one", "two", "three", "four")[int(length)],)
    first = 3 if length in (5, 6) else 4
    return (*_whole(Fraction(first)), *_whole(length - first))


def _starts(names: Sequence[str]) -> list[Quarters]:
    at, starts = Fraction(0), []
    for name in names:
        starts.append(at)
        at += _LENGTHS[name]
    return starts


def _read(text: str) -> Cell:
    notes: list[tuple[Quarters, Quarters]] = []
    at = Fraction(0)
    for word in text.split():
        told, _, tied = word.partition("~")
        length = Fraction(told)
        if length > 0:
            notes.append((at, length + (Fraction(tied) if tied else 0)))
        at += abs(length)
    return Cell(tuple(notes), at)


@lru_cache(maxsize=1)
def _vocabulary() -> Mapping[str, Mapping[str, tuple[Cell, ...]]]:
    text = files("changewright.lesson").joinpath("tables/rhythms.toml").read_text("utf-8")
    return {
        table: {name: tuple(map(_read, cells)) for name, cells in rows.items()}
        for table, rows in tomllib.loads(text).items()
    }


@lru_cache(maxsize=256)
def _cells_for(
    rhythms: tuple[str, ...],
    shortest: Quarters,
    notes_a_bar: tuple[int, int],
    groups: tuple[str, ...],
    length: Quarters,
    centre: Quarters,
) -> CellSet:
    low, high = notes_a_bar
    least, most = low * length / 4 - 1, ceil(high * length / 4)
    wanted = _joined(groups, rhythms, shortest, length)
    ends = _joined(groups, ("R1",), Fraction(0), length)
    fits = [c for c in wanted if c.notes and least <= len(c.notes) <= most]
    closing = (c for c in ends if 1 <= len(c.notes) <= 3 and c.eighths_to(length) == 0)
    kept = dict.fromkeys([*fits, *closing])
    cells = (Cell((), length), *kept)
    return CellSet(cells, _columns(cells, centre))


def _joined(
    groups: Sequence[str], rhythms: Sequence[str], shortest: Quarters, length: Quarters
) -> list[Cell]:
    """The cells of a bar: those of its table, or those of its groups one after another, the last
    of which may rest."""

    def of(table: str) -> Iterator[Cell]:
        for name in rhythms:
            for cell in _vocabulary()[table].get(name, ()):
                if all(d >= shortest for _, d in cell.notes):
                    yield cell

    if len(groups) == 1:
        return list(dict.fromkeys(cell.fitted(length) for cell in of(groups[0])))
    heads = [[_part(c) for c in of(name) if c.end <= c.length] for name in groups[:-1]]
    last = [_part(c) for c in (*of(groups[-1]), Cell((), _LENGTHS[groups[-1]]))]
    kept: dict[object, list[tuple[Cell, ...]]] = {}
    for parts in product(*heads, last):
        # joined cells are many, and those that serve a line alike are too
        serves = (sum(len(p.cell.notes) for p in parts), *(p.serves for p in parts))
        alike = kept.setdefault(serves, [])
        if len(alike) < _ALIKE:
            alike.append(tuple(p.cell for p in parts))
    return [reduce(Cell.then, cells) for alike in kept.values() for cells in alike]


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """A cell of one group, and what a line can ask of it: a start on its beat, eighths up to its
    end, a rest there."""

    cell: Cell
    serves: tuple[bool, int, bool, bool]


def _part(cell: Cell) -> _Part:
    rest = cell.length - cell.end
    tail = min(cell.eighths_to(cell.length), 3)
    return _Part(cell, (cell.first == 0, tail, rest >= 1, rest == cell.length))


def _columns(cells: tuple[Cell, ...], centre: Quarters) -> tuple[tuple[str, tuple[int, ...]], ...]:
    def grid(values: Iterable[Quarters]) -> tuple[int, ...]:
        return tuple(int(v * GRID) for v in values)

    return (
        ("cell", tuple(range(len(cells)))),
        ("count", tuple(len(c.notes) for c in cells)),
        ("first", grid(c.first for c in cells)),
        ("over", grid(max(Fraction(0), c.end - c.length) for c in cells)),
        ("rest", grid(max(Fraction(0), c.length - c.end) for c in cells)),
        ("one", tuple(int(c.first == 0) for c in cells)),
        ("middle", tuple(int(any(o == centre for o, _ in c.notes)) for c in cells)),
        ("lead", tuple(c.eighths_to(centre) for c in cells)),
        ("tail", tuple(c.eighths_to(c.length) for c in cells)),
        ("gaps", tuple(_gaps(c) for c in cells)),
    )


def _gaps(cell: Cell) -> int:
    """How many rests of a beat or more lie between its notes."""
    ends = [o + d for o, d in cell.notes]
    return sum(o - end >= 1 for end, (o, _) in zip(ends, cell.notes[1:], strict=False))
