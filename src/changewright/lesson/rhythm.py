"""Rhythm, bar by bar, from cells: composed before the notes and told what the notes will need.

PITFALL: figures must inform the rhythm. An enclosure needs two eighths before its target; found
only after the rhythm is fixed, it hardly ever fits.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from changewright.lesson.cells import GRID, Cell, CellSet, cells_for
from changewright.lesson.level import Level
from changewright.line.grammar import Grammar, Mask, Move, Preference, Rule, Weights
from changewright.line.slot import Floats, Slot
from changewright.line.trellis import Trellis
from changewright.music.bar import Bar, Quarters

__all__ = ["Flow", "Need", "compose_rhythm", "onsets_of"]


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


@dataclass(frozen=True, slots=True)
class Flow:
    """How a rhythm likes to go.

    ``density`` leans between the fewest (0) and the most (1) notes; ``motif`` is the log weight
    for a bar to repeat the rhythm of four bars before; ``joined`` is the log weight against a
    rest of a beat where no breath is asked for, ``upbeat`` the one for a phrase to start off the
    beat, after a breath.
    """

    density: float = 0.55
    motif: float = 2.0
    joined: float = 0.0
    upbeat: float = 0.0


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
_AGAIN = 8.0
"""Log weight against the rhythm of the bar before where four bars begin."""

GRAMMAR = Grammar((OVER, VARIED, NEED, TIES), (Preference("density flows", _fuller),))


def compose_rhythm(
    level: Level,
    bars: Sequence[Bar],
    needs: Mapping[int, Need],
    rng: np.random.Generator,
    flow: Flow = Flow(),
) -> list[Cell]:
    """One cell a bar, four bars at a time; later fours lean to the rhythm of the first (a motif).

    ``needs`` is by index of bar.
    """
    drawn: list[Cell] = []
    for start in range(0, len(bars), 4):
        block = bars[start : start + 4]
        rows = [cells_for(level, bar) for bar in block]
        slots = tuple(
            _slot(level, bars, needs, start + i, row, drawn, flow) for i, row in enumerate(rows)
        )
        line = Trellis(GRAMMAR, slots).solve().sample(1, rng)[0]
        drawn += [row.cells[choice] for row, choice in zip(rows, line.tolist(), strict=True)]
    return drawn


def onsets_of(bars: Sequence[Bar], cells: Sequence[Cell]) -> list[tuple[Quarters, Quarters]]:
    """Onset and duration of every note of a rhythm, one cell a bar."""
    return [(b.start + o, d) for b, cell in zip(bars, cells, strict=True) for o, d in cell.notes]


def _tight(bar: Bar, need: Need) -> bool:
    """Tell whether a short bar has no room for what leads on and a rhythm of its own as well."""
    return bar.length <= 2 and need.tail > 0


def _slot(
    level: Level,
    bars: Sequence[Bar],
    needs: Mapping[int, Need],
    index: int,
    row: CellSet,
    drawn: Sequence[Cell],
    flow: Flow,
) -> Slot:
    need, after = needs.get(index, Need()), needs.get(index + 1, Need())
    before = needs.get(index - 1, Need(rest=Fraction(1)))
    facts = {
        "one": int(need.on_one),
        "middle": int(need.middle),
        "lead": need.lead,
        "tail": need.tail,
        "rest": int(need.rest * GRID),
        "least": need.least,
        "most": need.most,
        "silent": int(need.silent),
        "last": int(index + 1 == len(bars) or (index + 1) % 4 == 0),
        "quiet_next": int(after.silent or after.on_one),
        "varied": int(not need.silent and len(row.cells) > 3 and not _tight(bars[index], need)),
    }
    rhyme = drawn[index - 4] if index >= 4 else None
    # inside four bars the rule sees to it
    last = drawn[index - 1] if index and index % 4 == 0 and facts["varied"] else None
    bar = bars[index]
    return Slot(
        bar.start,
        bar.number,
        "1",
        row.columns,
        tuple(facts.items()),
        tuple(_lean(level, row, flow, index, (rhyme, last), need, before).tolist()),
        lambda choice: row.cells[choice].words,
    )


def _lean(
    level: Level,
    row: CellSet,
    flow: Flow,
    index: int,
    drawn: tuple[Cell | None, Cell | None],
    need: Need,
    before: Need,
) -> Floats:
    """What a bar likes: as many notes as the flow has, the rhythm of four bars before but
    not of the last one (``drawn``), no rest inside a phrase, and a phrase that starts off the
    beat."""
    cell = row.arrays
    share = float(row.cells[0].length / 4)
    low, high = (share * count for count in level.notes_a_bar)
    wanted = low + flow.density * (min(high, row.fullest) - low)
    lean = np.asarray(-0.12 * (cell["count"] - wanted) ** 2, dtype=np.float64)
    gaps = cell["gaps"] + (cell["rest"] >= GRID) * (need.rest == 0)
    if before.rest > 0:
        lean = lean + flow.upbeat * (cell["first"] % GRID > 0)
    else:
        gaps = gaps + (cell["first"] >= GRID)
    lean = lean - flow.joined * gaps
    rhyme, last = (np.array([one is cell for one in row.cells]) for cell in drawn)
    lean = lean - _AGAIN * last
    return lean + rhyme * flow.motif * (1.0 if index % 4 < 2 else 0.4)
