"""What a line may do and what it likes to do: rules, preferences and what must be remembered."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from changewright.line.slot import Ints

__all__ = [
    "FORGETFUL",
    "Forgetful",
    "Grammar",
    "Mask",
    "Memory",
    "Move",
    "Preference",
    "Rule",
    "Weights",
]

Mask = Any
"""A boolean array that broadcasts over moves (numpy's own arithmetic is not typed closely)."""

Weights = Any
"""A float array of log weights that broadcasts over moves."""


@dataclass(frozen=True, slots=True)
class Move:
    """Many moves at once, from what was chosen to what may come next.

    ``after`` holds the columns of the slot being chosen and ``now`` its facts. ``before``,
    ``was`` and ``memory`` are those of the slot before, and empty for a rule about single
    choices. Arrays broadcast: ``before`` and ``memory`` are columns of shape (n, 1), ``after``
    rows of shape (1, m), so ``abs(move.after["pitch"] - move.before["pitch"]) > 7`` has shape
    (n, m).
    """

    after: Mapping[str, Ints]
    now: Mapping[str, int]
    before: Mapping[str, Ints]
    was: Mapping[str, int]
    memory: Ints


@dataclass(frozen=True, slots=True)
class Rule:
    """A hard rule: what breaks it can't be chosen at all.

    ``breaks`` marks the moves that break it. ``single`` rules judge a choice alone,
    ``remembers`` says that the rule reads the memory. ``blame`` weighs a breach when rules
    collide and one must give way: the smaller, the sooner a teacher would waive it. ``repair``
    says in words what waiving it means.

    PITFALL: a rule is never written as a large negative weight; such a rule hides that no line
    exists.
    """

    name: str
    breaks: Callable[[Move], Mask]
    single: bool = False
    remembers: bool = False
    blame: float = 1.0
    repair: str = ""


@dataclass(frozen=True, slots=True)
class Preference:
    """A taste: ``weigh`` gives a log weight for every move, 0 for indifferent.

    Source: weights set by hand against the figures named where a preference is declared.
    """

    name: str
    weigh: Callable[[Move], Weights]
    single: bool = False


class Memory(Protocol):
    """What a line remembers besides its last choice, as a small code from 0."""

    @property
    def codes(self) -> int:
        """How many codes there are."""
        ...

    def begin(self, size: int) -> Ints:
        """The code after each of ``size`` first choices."""
        ...

    def advance(self, move: Move) -> Ints:
        """The code after each move."""
        ...


@dataclass(frozen=True, slots=True)
class Forgetful:
    """Remember nothing but the last choice."""

    codes: int = 1

    def begin(self, size: int) -> Ints:
        """Nothing to remember."""
        return np.zeros(size, dtype=np.int64)

    def advance(self, move: Move) -> Ints:
        """Nothing to remember."""
        return np.zeros(np.broadcast_shapes(*_shapes(move)), dtype=np.int64)


FORGETFUL = Forgetful()


@dataclass(frozen=True, slots=True)
class Grammar:
    """Rules, preferences and memory together; equal grammars share their tables."""

    rules: tuple[Rule, ...]
    preferences: tuple[Preference, ...] = ()
    memory: Memory = FORGETFUL

    def without(self, *names: str) -> "Grammar":
        """The grammar with the named rules switched off."""
        return replace(self, rules=tuple(r for r in self.rules if r.name not in names))

    def rule(self, name: str) -> Rule:
        """One rule by name."""
        return next(r for r in self.rules if r.name == name)


def _shapes(move: Move) -> list[tuple[int, ...]]:
    return [next(iter(move.after.values())).shape, move.memory.shape]
