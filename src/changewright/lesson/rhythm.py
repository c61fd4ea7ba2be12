"""Rhythm, bar by bar, from cells: composed before the notes and told what the notes will need.

PITFALL: figures must inform the rhythm. An enclosure needs two eighths before its target; found
only after the rhythm is fixed, it hardly ever fits.
"""

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files

import numpy as np

from changewright.lesson.level import Level
from changewright.line.grammar import Grammar, Mask, Move, Preference, Rule, Weights
from changewright.line.slot import Slot
from changewright.line.trellis import Trellis
from changewright.music.bar import Bar, Quarters

__all__ = ["Cell", "Need", "cells_for", "compose_rhythm", "onsets_of"]

_GRID = 24


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
        """The rhythm for a person: where its notes start, in beats."""
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


@dataclass(frozen=True, slots=True)
class Need:
    """What a bar's rhythm must offer: a note on beat one or in the middle of the bar, ``lead``
    eighths up to the middle and ``tail`` eighths up to the bar line, an end with at least
    ``rest`` quarters of rest, ``least`` to ``most`` notes, or silence."""

    on_one: bool = False
    middle: bool = False
    lead: int = 0
    tail: int = 0
    rest: Quarters = Fraction(0)
    least: int = 0
    most: int = 99
    silent: bool = False


EMPTY = Cell((), Fraction(4))


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
def _vocabulary() -> Mapping[str, tuple[Cell, ...]]:
    text = files("changewright.lesson").joinpath("tables/rhythms.toml").read_text("utf-8")
    return {name: tuple(map(_read, cells)) for name, cells in tomllib.loads(text).items()}


@dataclass(frozen=True, slots=True, eq=False)
class CellSet:
    """The cells for a bar, with the columns that rules read of them."""

    cells: tuple[Cell, ...]
    columns: tuple[tuple[str, tuple[int, ...]], ...]
    fullest: int


def cells_for(level: Level, length: Quarters) -> CellSet:
    """The cells that a level allows in a bar of some length: the empty bar first, the level's own
    rhythms, and long notes for endings."""
    return _cells_for(level.rhythms, level.shortest, level.notes_a_bar, length)


@lru_cache(maxsize=256)
def _cells_for(
    rhythms: tuple[str, ...], shortest: Quarters, notes_a_bar: tuple[int, int], length: Quarters
) -> CellSet:
    low, high = notes_a_bar
    wanted = dict.fromkeys(
        cell.fitted(length)
        for name in rhythms
        for cell in _vocabulary().get(name, ())
        if all(d >= shortest for _, d in cell.notes)
    )
    least = low * length / 4 - 1
    ends = dict.fromkeys(
        cell.fitted(length) for cell in _vocabulary()["R1"] if cell.eighths_to(cell.length) == 0
    )
    fits = [c for c in wanted if c.notes and least <= len(c.notes) <= high]
    kept = dict.fromkeys([*fits, *(c for c in ends if len(c.notes) <= 3)])
    cells = (Cell((), length), *kept)
    return CellSet(cells, _columns(cells), max(len(c.notes) for c in cells))


def _over(move: Move) -> Mask:
    return (move.before["over"] > 0) & (move.after["first"] < move.before["over"])


def _twice(move: Move) -> Mask:
    return (move.after["cell"] == move.before["cell"]) & (move.now["varied"] == 1)


def _lacks(move: Move) -> Mask:
    silent = move.now["silent"] == 1
    missing = (
        (move.after["one"] < move.now["one"])
        | (move.after["middle"] < move.now["middle"])
        | (move.after["lead"] < move.now["lead"])
        | (move.after["tail"] < move.now["tail"])
        | (move.after["rest"] < move.now["rest"])
        | (move.after["count"] > move.now["most"])
        | (move.after["count"] < max(1, move.now["least"]))
    )
    return np.where(silent, move.after["count"] > 0, missing)


def _ties_out(move: Move) -> Mask:
    return (move.after["over"] > 0) & ((move.now["last"] == 1) | (move.now["quiet_next"] == 1))


def _fuller(move: Move) -> Weights:
    """A bar after a full one may breathe; two sparse ones in a row sag."""
    return np.where((move.before["count"] <= 2) & (move.after["count"] <= 2), -0.6, 0.0)


OVER = Rule("ties", _over, blame=3.0, repair="strike a tied note again")
VARIED = Rule("rhythm varies", _twice, blame=0.5, repair="repeat a rhythm")
NEED = Rule("rhythm needed", _lacks, True, blame=5.0, repair="change the rhythm's task")
TIES = Rule("no tie into silence", _ties_out, True, blame=2.0, repair="hold a note into a rest")
GRAMMAR = Grammar((OVER, VARIED, NEED, TIES), (Preference("density flows", _fuller),))


def compose_rhythm(
    level: Level,
    bars: Sequence[Bar],
    needs: Mapping[int, Need],
    rng: np.random.Generator,
    density: float = 0.55,
    motif: float = 2.0,
) -> list[Cell]:
    """One cell a bar, four bars at a time; later fours lean to the rhythm of the first (a motif).

    ``needs`` is by index of bar. ``density`` leans between the fewest (0) and the most (1) notes;
    ``motif`` is the log weight for a bar to repeat the rhythm of four bars before.
    """
    drawn: list[Cell] = []
    for start in range(0, len(bars), 4):
        block = bars[start : start + 4]
        rows = [cells_for(level, bar.length) for bar in block]
        slots = tuple(
            _slot(level, bars, needs, start + i, row, drawn, (density, motif))
            for i, row in enumerate(rows)
        )
        line = Trellis(GRAMMAR, slots).solve().sample(1, rng)[0]
        drawn += [row.cells[choice] for row, choice in zip(rows, line.tolist(), strict=True)]
    return drawn


def onsets_of(bars: Sequence[Bar], cells: Sequence[Cell]) -> list[tuple[Quarters, Quarters]]:
    """Onset and duration of every note of a rhythm, one cell a bar."""
    return [(b.start + o, d) for b, cell in zip(bars, cells, strict=True) for o, d in cell.notes]


def _slot(
    level: Level,
    bars: Sequence[Bar],
    needs: Mapping[int, Need],
    index: int,
    row: CellSet,
    drawn: Sequence[Cell],
    taste: tuple[float, float],
) -> Slot:
    need, after = needs.get(index, Need()), needs.get(index + 1, Need())
    facts = {
        "one": int(need.on_one),
        "middle": int(need.middle),
        "lead": need.lead,
        "tail": need.tail,
        "rest": int(need.rest * _GRID),
        "least": need.least,
        "most": need.most,
        "silent": int(need.silent),
        "last": int(index + 1 == len(bars) or (index + 1) % 4 == 0),
        "quiet_next": int(after.silent or after.on_one),
        "varied": int(not need.silent and len(row.cells) > 3),
    }
    low, high = level.notes_a_bar
    density, motif = taste
    wanted = low + density * (min(high, row.fullest) - low)
    rhyme = drawn[index - 4] if index >= 4 else None
    lean = tuple(
        -0.12 * (len(cell.notes) - wanted) ** 2
        + (motif if index % 4 < 2 else motif * 0.4) * (cell is rhyme)
        for cell in row.cells
    )
    bar = bars[index]
    return Slot(
        bar.start,
        bar.number,
        "1",
        row.columns,
        tuple(facts.items()),
        lean,
        lambda choice: row.cells[choice].words,
    )


def _columns(cells: tuple[Cell, ...]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    def grid(values: Iterable[Quarters]) -> tuple[int, ...]:
        return tuple(int(v * _GRID) for v in values)

    return (
        ("cell", tuple(range(len(cells)))),
        ("count", tuple(len(c.notes) for c in cells)),
        ("first", grid(c.first for c in cells)),
        ("over", grid(max(Fraction(0), c.end - c.length) for c in cells)),
        ("rest", grid(max(Fraction(0), c.length - c.end) for c in cells)),
        ("one", tuple(int(c.first == 0) for c in cells)),
        ("middle", tuple(int(any(o * 2 == c.length for o, _ in c.notes)) for c in cells)),
        ("lead", tuple(c.eighths_to(c.length / 2) for c in cells)),
        ("tail", tuple(c.eighths_to(c.length) for c in cells)),
    )
