"""Arc tables: which state leads to which, and how heavily. Built once, kept within a bound."""

from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass
from threading import Lock
from typing import cast

import numpy as np

from changewright.line.grammar import Grammar, Move, Rule
from changewright.line.slot import Bools, Floats, Ints, Keyed, Slot

__all__ = [
    "Layer",
    "Step",
    "Tables",
    "entrance",
    "move_between",
    "shared_tables",
    "single_move",
    "single_weights",
]


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """The states in which a line can be at a slot: a choice and a memory code each."""

    choice: Ints
    memory: Ints
    key: Keyed

    @property
    def size(self) -> int:
        """How many states."""
        return len(self.choice)


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """All legal arcs into a slot, ordered by the state they leave.

    ``starts`` has one entry a source state and a last one, so that the arcs of state s are
    [starts[s], starts[s + 1]). ``weight`` is the log weight of arc and arrival together.
    """

    target: Ints
    weight: Floats
    starts: Ints
    layer: Layer

    @property
    def arcs(self) -> int:
        """How many arcs."""
        return len(self.target)


Key = tuple[Hashable, ...]


class Tables:
    """A store of steps that forgets the least recently used beyond ``most_arcs`` arcs. Threads
    may share one.

    An arc takes 16 bytes. Source: measured, an all-keys book held 168 MB without a bound.
    """

    def __init__(self, most_arcs: int = 2_000_000) -> None:
        self.most_arcs = most_arcs
        self._held: OrderedDict[Key, Step] = OrderedDict()
        self._arcs = 0
        self._lock = Lock()

    @property
    def arcs(self) -> int:
        """How many arcs are held now."""
        return self._arcs

    def step(
        self, grammar: Keyed, slots: tuple[Slot, Slot], layer: Layer, waived: frozenset[str]
    ) -> Step:
        """The arcs from a layer at the first of two slots into the second."""
        key = (grammar, layer.key, slots[0].kind, slots[1].kind, waived)
        with self._lock:
            found = self._held.get(key)
            if found is not None:
                self._held.move_to_end(key)
                return found
        made = _build(cast(Grammar, grammar.value), slots, layer, waived)
        with self._lock:
            self._keep(key, made)
        return made

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._held.clear()
            self._arcs = 0

    def _keep(self, key: Key, made: Step) -> None:
        before = self._held.pop(key, None)
        self._held[key] = made
        self._arcs += made.arcs - (before.arcs if before else 0)
        while self._arcs > self.most_arcs and len(self._held) > 1:
            _, dropped = self._held.popitem(last=False)
            self._arcs -= dropped.arcs


shared_tables = Tables()
"""The tables that every trellis shares unless it is given its own."""


def single_move(slot: Slot) -> Move:
    """The choices of a slot, each alone."""
    empty = np.zeros((1, 1), dtype=np.int64)
    return Move({n: a[None, :] for n, a in slot.arrays().items()}, dict(slot.facts), {}, {}, empty)


def move_between(
    slots: tuple[Slot, Slot], choice: Ints, memory: Ints, chosen: Ints | None = None
) -> Move:
    """All moves from states (``choice``, ``memory``) to the choices of the next slot."""
    before, after = slots[0].arrays(), slots[1].arrays()
    pick = slice(None) if chosen is None else chosen
    return Move(
        {n: a[pick][None, :] for n, a in after.items()},
        dict(slots[1].facts),
        {n: a[choice][:, None] for n, a in before.items()},
        dict(slots[0].facts),
        memory[:, None],
    )


def entrance(grammar: Grammar, slot: Slot, waived: frozenset[str]) -> Layer:
    """The legal states at a slot that nothing comes before."""
    choice = np.flatnonzero(_legal(grammar, slot, waived))
    memory = grammar.memory.begin(slot.size)[choice]
    return Layer(choice, memory, Keyed((choice.tobytes(), memory.tobytes())))


def _legal(grammar: Grammar, slot: Slot, waived: frozenset[str]) -> Bools:
    legal = np.ones(slot.size, dtype=np.bool_)
    move = single_move(slot)
    for rule in _active(grammar, waived, single=True):
        legal &= ~np.broadcast_to(rule.breaks(move), (1, slot.size))[0]
    return legal


def _active(grammar: Grammar, waived: frozenset[str], *, single: bool) -> list[Rule]:
    return [r for r in grammar.rules if r.single is single and r.name not in waived]


def _build(
    grammar: Grammar, slots: tuple[Slot, Slot], layer: Layer, waived: frozenset[str]
) -> Step:
    chosen = np.flatnonzero(_legal(grammar, slots[1], waived))
    shape = (layer.size, len(chosen))
    move = move_between(slots, layer.choice, layer.memory, chosen)
    legal = np.ones(shape, dtype=np.bool_)
    for rule in _active(grammar, waived, single=False):
        legal &= ~np.broadcast_to(rule.breaks(move), shape)
    weight = np.zeros(shape)
    for taste in grammar.preferences:
        if not taste.single:
            weight = weight + taste.weigh(move)
    weight = weight + single_weights(grammar, slots[1])[chosen][None, :]
    codes = grammar.memory.codes
    states = chosen[None, :] * codes + np.broadcast_to(grammar.memory.advance(move), shape)
    source, column = np.nonzero(legal)
    arrived = states[source, column]
    marked = np.zeros(slots[1].size * codes, dtype=np.bool_)
    marked[arrived] = True
    reached = np.flatnonzero(marked)
    target = (np.cumsum(marked) - 1)[arrived]
    starts = np.concatenate(([0], np.cumsum(legal.sum(axis=1)))).astype(np.int64)
    after = Layer(reached // codes, reached % codes, Keyed(reached.tobytes()))
    return Step(target, weight[source, column], starts, after)


def single_weights(grammar: Grammar, slot: Slot) -> Floats:
    """The tastes about single choices, one log weight a choice."""
    total = np.zeros((1, slot.size))
    move = single_move(slot)
    for taste in grammar.preferences:
        if taste.single:
            total = total + taste.weigh(move)
    return cast(Floats, np.broadcast_to(total, (1, slot.size))[0])
