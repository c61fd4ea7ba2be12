"""Simulated students: a documented model of learning and forgetting, no part of the planner.

Each cell (strand in a key) has an activation after the practice-and-forgetting model of Pavlik and
Anderson, "Practice and forgetting effects on vocabulary memory: an activation-based model of the
spacing effect", Cognitive Science 29 (2005): every presentation leaves a trace that decays by a
power of its age, and decays the faster the more active the memory was when it was made, so that
massed practice is worth less than spaced. Constants c, a and s are of that order (from memory);
they are drawn anew for each student. Ours: a minute at an instrument is a presentation; what is
practised too fast leaves a weaker trace; half of a cell's trace goes to the same strand in
neighbouring keys by fourths, a quarter to the next strand in the same key. A take is a draw of so
many notes. The planner's own memory (FSRS) is another model and knows nothing of this one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, log
from random import Random

from changewright.plan.skill import Strand
from changewright.theory.key import Key

__all__ = ["NOTES", "Cell", "SimulatedStudent", "Take"]

Cell = tuple[Strand, str]
Take = tuple[int, int]
"""The rung of the ladder that was reached, and the notes of 48 that were right."""

NOTES = 48
CLEAN = 42
THRESHOLD = (-1.3, -0.8)
UNEVEN = 0.3
BROUGHT = 0.25
_DAY = 86_400 * 0.025  # a day between sessions counts as 2160 s of interference, as in the paper
_MINUTE = 60.0


@dataclass
class SimulatedStudent:
    """One student, made from a seed; ``cells`` in the order of the goals."""

    seed: int
    strands: tuple[Strand, ...]
    keys: dict[Strand, tuple[str, ...]]
    traces: dict[Cell, list[tuple[float, float, float]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.dice = Random(f"student/{self.seed}")
        self.scale = self.dice.uniform(0.18, 0.26)
        self.base = self.dice.uniform(0.15, 0.22)
        self.noise = self.dice.uniform(0.22, 0.34)
        self.threshold = self.dice.uniform(*THRESHOLD)
        self.steep = self.dice.uniform(1.0, 2.0)
        self.hard = {cell: self._hardness(cell) for cell in self.cells}
        for cell in self.cells:
            if self.dice.random() < BROUGHT:
                self.traces[cell] = [(-_DAY * n, self.base, 0.8) for n in range(30, 90)]

    def _hardness(self, cell: Cell) -> float:
        """How much more a cell asks for than another: its key's signs, and the player's hands."""
        signs = abs(Key.parse(cell[1]).signature)
        return 0.06 * signs + self.dice.gauss(0.0, UNEVEN)

    @property
    def cells(self) -> tuple[Cell, ...]:
        """All goals, strand by strand through the keys."""
        return tuple((s, k) for s in self.strands for k in self.keys[s])

    def activation(self, cell: Cell, at: float) -> float:
        """The activation of a cell at a time in seconds of the model."""
        total = sum(w * max(at - t, 1.0) ** -d for t, d, w in self.traces.get(cell, ()) if t < at)
        return log(total) if total > 0 else -6.0

    def chance(self, cell: Cell, at: float, tempo_share: float = 1.0) -> float:
        """The chance that a note of a cell goes at a share of its goal tempo."""
        m = self.activation(cell, at) + self.steep * (1.0 - tempo_share)
        short = self.threshold + self.hard[cell] - m
        return self._ready(cell, at) / (1 + exp(min(50.0, short / self.noise)))

    def practise(self, cell: Cell, day: float, minutes: int, ladder: Sequence[float]) -> Take:
        """Play a cell for some minutes on a day (a number from 0), up the ladder of tempos (as
        shares of the goal) after each clean minute and down after a bad one; then one take."""
        strand, key = cell
        rung = 0
        for minute in range(minutes):
            at = day * _DAY + minute * _MINUTE
            chance = self.chance(cell, at, ladder[rung])
            for near, share in self._near(strand, key):
                decay = self.scale * exp(self.activation(near, at)) + self.base
                weight = share * (0.2 + 0.8 * chance)
                self.traces.setdefault(near, []).append((at, decay, weight))
            rung = min(len(ladder) - 1, max(0, rung + (1 if self._notes(chance) > CLEAN else -1)))
        end = day * _DAY + minutes * _MINUTE
        return rung, self._notes(self.chance(cell, end, ladder[rung]))

    def _notes(self, chance: float) -> int:
        right = 0.45 + 0.55 * chance
        return sum(self.dice.random() < right for _ in range(NOTES))

    def _ready(self, cell: Cell, at: float) -> float:
        """A strand can't go much better than the one it builds on goes in its best key, slowly."""
        place = self.strands.index(cell[0])
        if place == 0:
            return 1.0
        below = self.strands[place - 1]
        best = max(self.activation((below, key), at) for key in self.keys[below])
        slow = best + 0.25 * self.steep
        return 0.4 + 0.6 / (1 + exp(min(50.0, (self.threshold - slow) / self.noise)))

    def _near(self, strand: Strand, key: str) -> list[tuple[Cell, float]]:
        found: list[tuple[Cell, float]] = [((strand, key), 1.0)]
        keys = self.keys[strand]
        place = keys.index(key)
        found += [((strand, keys[n]), 0.25) for n in (place - 1, place + 1) if 0 <= n < len(keys)]
        after = self.strands.index(strand) + 1
        if after < len(self.strands) and place < len(self.keys[self.strands[after]]):
            following = self.strands[after]
            found.append(((following, self.keys[following][place]), 0.25))
        return found

    def kept(self, day: float, share: float = 0.85, later: float = 7.0) -> int:
        """How many goals would still go a week later, at tempo, with this share of the notes."""
        at = (day + later) * _DAY
        return sum(0.45 + 0.55 * self.chance(cell, at) >= share for cell in self.cells)
