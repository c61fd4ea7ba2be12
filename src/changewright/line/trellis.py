"""One exact layered trellis: filter backwards once, then draw any number of lines forwards.

Sums run in the log domain, state by state.

PITFALL: sums of plain probabilities underflow at strong tastes and then break rules silently,
while their total still looks right.
"""

from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NoReturn, cast

import numpy as np

from changewright.errors import Refusal
from changewright.line.conflict import Conflict, Waiver, conflict_of
from changewright.line.grammar import Grammar
from changewright.line.slot import Floats, Ints, Keyed, Slot
from changewright.line.tables import Layer, Step, Tables, entrance, shared_tables, single_weights

__all__ = ["Solution", "Trellis"]

BLOCK = 64
"""Slots between kept filter messages in long forms; the rest are computed again when needed."""

HELD_BLOCKS = 24
"""Blocks of messages held at once: up to 1,536 slots nothing is computed twice."""


@dataclass(frozen=True, slots=True)
class Trellis:
    """All lines over ``slots`` that a grammar allows, weighted by its preferences.

    ``waived`` switches single rules off at single slots (a relaxation).
    """

    grammar: Grammar
    slots: tuple[Slot, ...]
    waived: frozenset[Waiver] = frozenset()

    def __post_init__(self) -> None:
        if not self.slots:
            raise ValueError("a trellis has at least one slot")

    def solve(self, tables: Tables = shared_tables) -> "Solution":
        """Filter the trellis; raises :class:`Refusal` where no line exists."""
        solution = self._filter(tables)
        if solution is None:
            self._refuse()
        return solution

    def conflict(self) -> Conflict | None:
        """Why no line exists and what would help; None where one does."""
        if self._filter(shared_tables) is not None:
            return None
        return conflict_of(self.grammar, self.slots, self.waived, self._would_help)

    def clamp(self, index: int, choices: Iterable[int]) -> "Trellis":
        """Hold one slot to some of its choices."""
        slots = list(self.slots)
        slots[index] = slots[index].only(choices)
        return replace(self, slots=tuple(slots))

    def waive(self, waivers: Iterable[Waiver]) -> "Trellis":
        """Switch single rules off at single slots."""
        return replace(self, waived=self.waived | frozenset(waivers))

    def without(self, *rules: str) -> "Trellis":
        """Switch whole rules off."""
        return replace(self, grammar=self.grammar.without(*rules))

    def _would_help(self, waivers: frozenset[Waiver]) -> bool:
        return self.waive(waivers)._filter(shared_tables) is not None

    def _filter(self, tables: Tables) -> "Solution | None":
        waived = _by_slot(self.waived)
        layer = entrance(self.grammar, self.slots[0], waived.get(0, frozenset()))
        opening = _arrival(self.slots[0], layer, single_weights(self.grammar, self.slots[0]))
        keyed = Keyed(self.grammar)
        steps: list[Step] = []
        first = layer
        for index, pair in enumerate(pairwise(self.slots), start=1):
            step = tables.step(keyed, pair, layer, waived.get(index, frozenset()))
            if not step.arcs:
                return None
            steps.append(step)
            layer = step.layer
        if not first.size:
            return None
        solution = Solution(self.slots, first, opening, tuple(steps))
        return solution if np.isfinite(solution.log_z) else None

    def _refuse(self) -> NoReturn:
        found = conflict_of(self.grammar, self.slots, self.waived, self._would_help)
        raise Refusal(found.bar, found.beat, found.rules, found.sentences, found.detail)


class Solution:
    """A filtered trellis: its total weight, its best line, and exact samples."""

    def __init__(
        self, slots: tuple[Slot, ...], first: Layer, opening: Floats, steps: tuple[Step, ...]
    ) -> None:
        self._slots = slots
        self._first = first
        self._opening = opening
        self._steps = steps
        self._leans = tuple(np.array(s.lean) if s.lean else None for s in slots)
        self._marks: dict[int, Floats] = {}
        self._blocks: OrderedDict[int, list[Floats]] = OrderedDict()
        self._sweep()
        self.log_z = float(_log_sum(opening + self._message(0)))

    @property
    def states(self) -> int:
        """The largest number of states at any slot."""
        return max([self._first.size, *(step.layer.size for step in self._steps)])

    @property
    def arcs(self) -> int:
        """The number of arcs over all slots."""
        return sum(step.arcs for step in self._steps)

    def sample(self, n: int, rng: np.random.Generator) -> Ints:
        """Draw ``n`` lines, each with its exact probability: choices of shape (n, slots)."""
        drawn = np.empty((n, len(self._slots)), dtype=np.int64)
        state = _draw(self._opening + self._message(0), rng.random(n))
        drawn[:, 0] = self._first.choice[state]
        for index, step in enumerate(self._steps, start=1):
            state = self._leave(index, step, state, rng.random(n))
            drawn[:, index] = step.layer.choice[state]
        return drawn

    def best(self) -> Ints:
        """The heaviest line: one choice a slot."""
        ahead = [np.zeros(self._steps[-1].layer.size if self._steps else self._first.size)]
        for index in range(len(self._steps), 0, -1):
            step = self._steps[index - 1]
            ahead.append(_peak(self._scores(index, step, ahead[-1]), step.starts))
        ahead.reverse()
        state = int(np.argmax(self._opening + ahead[0]))
        line = [int(self._first.choice[state])]
        for index, step in enumerate(self._steps, start=1):
            arcs = slice(step.starts[state], step.starts[state + 1])
            scores = self._scores(index, step, ahead[index])[arcs]
            state = int(step.target[arcs][int(np.argmax(scores))])
            line.append(int(step.layer.choice[state]))
        return np.array(line)

    def log_weight(self, line: Sequence[int]) -> float:
        """The log weight of one line, or minus infinity where a rule forbids it.

        Where several states read the same line (a memory never does), their weights add.
        """
        now = np.where(self._first.choice == line[0], self._opening, -np.inf)
        for index, step in enumerate(self._steps, start=1):
            source = np.repeat(np.arange(len(now)), np.diff(step.starts))
            arcs = now[source] + self._scores(index, step, None)
            now = np.full(step.layer.size, -np.inf)
            np.logaddexp.at(now, step.target, arcs)
            now[step.layer.choice != line[index]] = -np.inf
        return float(_log_sum(now))

    def _leave(self, index: int, step: Step, state: Ints, draws: Floats) -> Ints:
        scores = self._scores(index, step, self._message(index))
        if len(state) < 32:
            arcs = [
                step.starts[s]
                + _draw(scores[step.starts[s] : step.starts[s + 1]], draws[i : i + 1])
                for i, s in enumerate(state.tolist())
            ]
            chosen = np.concatenate(arcs)
        else:
            chosen = _draw_many(scores, step.starts, state, draws)
        reached: Ints = step.target[chosen]
        return reached

    def _scores(self, index: int, step: Step, ahead: Floats | None) -> Floats:
        lean = self._leans[index]
        if lean is not None:
            arrival = lean[step.layer.choice]
            ahead = arrival if ahead is None else arrival + ahead
        return step.weight if ahead is None else step.weight + ahead[step.target]

    def _sweep(self) -> None:
        message = np.zeros(self._steps[-1].layer.size if self._steps else self._first.size)
        block: list[Floats] = []
        for index in range(len(self._steps), -1, -1):
            if index < len(self._steps):
                message = self._back(index, message)
            block.append(message)
            if index % BLOCK == 0:
                self._marks[index] = message
                self._hold(index // BLOCK, block[::-1])
                block = []
        self._marks[len(self._steps)] = np.zeros(
            self._steps[-1].layer.size if self._steps else self._first.size
        )

    def _back(self, index: int, ahead: Floats) -> Floats:
        step = self._steps[index]
        return _log_sums(self._scores(index + 1, step, ahead), step.starts)

    def _hold(self, number: int, block: list[Floats]) -> None:
        self._blocks[number] = block
        if len(self._blocks) > HELD_BLOCKS:
            # the sweep runs backwards and the reading forwards: drop what is farthest ahead
            self._blocks.pop(max(self._blocks))

    def _message(self, index: int) -> Floats:
        number = index // BLOCK
        if number not in self._blocks:
            self._blocks = OrderedDict((k, v) for k, v in self._blocks.items() if k > number)
            self._hold_again(number)
        return self._blocks[number][index % BLOCK]

    def _hold_again(self, number: int) -> None:
        last = min((number + 1) * BLOCK, len(self._steps))
        message = self._marks[last]
        block = [message]
        for index in range(last - 1, number * BLOCK - 1, -1):
            message = self._back(index, message)
            block.append(message)
        block.reverse()
        self._blocks[number] = block[:BLOCK] if last == (number + 1) * BLOCK else block


def _by_slot(waived: Iterable[Waiver]) -> dict[int, frozenset[str]]:
    found: dict[int, frozenset[str]] = {}
    for waiver in waived:
        found[waiver.index] = found.get(waiver.index, frozenset()) | {waiver.rule}
    return found


def _arrival(slot: Slot, layer: Layer, weights: Floats) -> Floats:
    lean = np.array(slot.lean) if slot.lean else np.zeros(slot.size)
    return (weights + lean)[layer.choice]


def _log_sum(values: Floats) -> float:
    top = values.max(initial=-np.inf)
    return float(top + np.log(np.exp(values - top).sum())) if np.isfinite(top) else -np.inf


def _peak(scores: Floats, starts: Ints) -> Floats:
    peak = np.full(len(starts) - 1, -np.inf)
    live = starts[1:] > starts[:-1]
    if live.any():
        # PITFALL: reduceat gives an empty segment its neighbour's first value
        peak[live] = np.maximum.reduceat(scores, starts[:-1][live])
    return peak


def _log_sums(scores: Floats, starts: Ints) -> Floats:
    peak = _peak(scores, starts)
    solid = np.where(np.isfinite(peak), peak, 0.0)
    shares = np.exp(scores - np.repeat(solid, np.diff(starts)))
    live = starts[1:] > starts[:-1]
    total = np.zeros(len(peak))
    if live.any():
        total[live] = np.add.reduceat(shares, starts[:-1][live])
    with np.errstate(divide="ignore"):
        return solid + np.log(total)


def _draw(scores: Floats, draws: Floats) -> Ints:
    live = np.flatnonzero(np.isfinite(scores))
    heights = np.cumsum(np.exp(scores[live] - scores[live].max()))
    found = np.searchsorted(heights, draws * heights[-1], side="right")
    return cast(Ints, live[np.minimum(found, len(live) - 1)])


def _draw_many(scores: Floats, starts: Ints, state: Ints, draws: Floats) -> Ints:
    peak = _peak(scores, starts)
    solid = np.where(np.isfinite(peak), peak, 0.0)
    shares = np.exp(scores - np.repeat(solid, np.diff(starts)))
    live = np.flatnonzero(shares > 0)
    heights = np.concatenate(([0.0], np.cumsum(shares[live])))
    low = np.searchsorted(live, starts[state])
    high = np.searchsorted(live, starts[state + 1])
    wanted = heights[low] + draws * (heights[high] - heights[low])
    found = np.searchsorted(heights, wanted, side="right") - 1
    # PITFALL: rounding may carry a draw over its own last arc
    return cast(Ints, live[np.clip(found, low, high - 1)])
