"""Two small trellises whose every line can be written down, and the writing down."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

import numpy as np

from changewright.line.grammar import Grammar, Move, Preference, Rule
from changewright.line.slot import Slot
from changewright.line.trellis import Trellis


@dataclass(frozen=True)
class Direction:
    """Remember whether the last move fell, stayed or rose."""

    codes: int = 3

    def begin(self, size: int) -> np.ndarray:
        return np.ones(size, dtype=np.int64)

    def advance(self, move: Move) -> np.ndarray:
        return np.sign(move.after["pitch"] - move.before["pitch"]) + 1


def leap(move: Move) -> np.ndarray:
    return np.abs(move.after["pitch"] - move.before["pitch"]) > 4


def high(move: Move) -> np.ndarray:
    return move.after["pitch"] > 67


def turns_twice(move: Move) -> np.ndarray:
    rising = move.after["pitch"] > move.before["pitch"]
    return (move.memory == 0) & rising & (move.now.get("strict", 0) == 1)


def likes_steps(move: Move) -> np.ndarray:
    return -0.3 * np.abs(move.after["pitch"] - move.before["pitch"]).astype(float)


def likes_runs(move: Move) -> np.ndarray:
    way = np.sign(move.after["pitch"] - move.before["pitch"]) + 1
    return np.where(way == move.memory, 0.8, 0.0)


def likes_low(move: Move) -> np.ndarray:
    return -0.1 * (move.after["pitch"] - 60)


RULES = (
    Rule("leap", leap, blame=1.0, repair="let the line leap"),
    Rule("range", high, single=True, blame=5.0, repair="leave the range"),
    Rule("no turn", turns_twice, remembers=True, blame=2.0, repair="let the line turn"),
)
TASTES = (
    Preference("steps", likes_steps),
    Preference("runs", likes_runs),
    Preference("low", likes_low, single=True),
)


def slot(index: int, pitches: tuple[int, ...], **more) -> Slot:
    bar, beat = index // 4 + 1, str(index % 4 + 1)
    return Slot.of(Fraction(index), bar, beat, {"pitch": pitches}, **more)


def with_memory() -> Trellis:
    pool = (60, 62, 64, 65, 67, 69)
    strict = (("strict", 1),)
    slots = (
        slot(0, pool),
        slot(1, pool, facts=strict),
        slot(2, (60, 63, 67), lean=(0.5, -0.5, 0.0)),
        slot(3, pool, facts=strict),
        slot(4, pool, lean=(0.0, 0.0, float("-inf"), 0.2, 0.0, 0.0)),
    )
    return Trellis(Grammar(RULES, TASTES, Direction()), slots)


def forgetful() -> Trellis:
    slots = tuple(slot(i, ((60, 64, 67), (59, 62, 65, 68))[i % 2]) for i in range(4))
    return Trellis(Grammar(RULES[:2], (TASTES[0], TASTES[2])), slots)


def every_line(trellis: Trellis) -> Iterator[tuple[tuple[int, ...], float]]:
    """Every legal line with its log weight, found by trying all."""
    grammar, slots = trellis.grammar, trellis.slots
    for line in product(*(range(s.size) for s in slots)):
        weight = _weight(grammar, slots, line)
        if weight is not None and np.isfinite(weight):
            yield line, weight


def _weight(grammar, slots, line) -> float | None:
    total, memory = 0.0, int(grammar.memory.begin(slots[0].size)[line[0]])
    before: Slot | None = None
    for index, choice in enumerate(line):
        now = slots[index]
        single = _move(None, now, 0, line, index)
        if any(bool(r.breaks(single).all()) for r in grammar.rules if r.single):
            return None
        total += sum(float(p.weigh(single).sum()) for p in grammar.preferences if p.single)
        total += now.lean[choice] if now.lean else 0.0
        if before is not None:
            move = _move(before, now, memory, line, index)
            if any(bool(r.breaks(move).all()) for r in grammar.rules if not r.single):
                return None
            total += sum(float(p.weigh(move).sum()) for p in grammar.preferences if not p.single)
            memory = int(grammar.memory.advance(move).reshape(-1)[0])
        before = now
    return total


def _move(before, now, memory, line, index) -> Move:
    after = {n: np.array([[numbers[line[index]]]]) for n, numbers in now.columns}
    if before is None:
        return Move(after, dict(now.facts), {}, {}, np.zeros((1, 1), dtype=np.int64))
    was = {n: np.array([[numbers[line[index - 1]]]]) for n, numbers in before.columns}
    return Move(after, dict(now.facts), was, dict(before.facts), np.array([[memory]]))
