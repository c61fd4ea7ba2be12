"""Arc tables: which state leads to which, and how heavily. Built once, kept within a bound."""

from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass
from threading import Lock
from typing import Any, cast

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


@dataclass(frozen=True, slots=True, eq=False)
class _Entry:
    """What a slot offers whatever came before it: the legal choices, their columns and their own
    log weights."""

    chosen: Ints
    columns: dict[str, Ints]
    weight: Floats


_MOST_ENTRIES = 2000
"""Slots of which the legal choices are remembered, a few kilobytes each."""

Key = tuple[Hashable, ...]


class Tables:
    """A store of steps that forgets the least recently used beyond ``most_arcs`` arcs. Threads
    may share one.

    An arc takes 16 bytes. Source: measured, an all-keys book held 168 MB without a bound.
    """

    def __init__(self, most_arcs: int = 2_000_000) -> None:
        self.most_arcs = most_arcs
        self._held: OrderedDict[Key, Step] = OrderedDict()
        self._entries: OrderedDict[Key, _Entry] = OrderedDict()
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
        known = cast(Grammar, grammar.value)
        entry = self._entry(grammar, slots[1], waived)
        made = _build(known, slots, layer, waived, entry)
        with self._lock:
            self._keep(key, made)
        return made

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._held.clear()
            self._entries.clear()
            self._arcs = 0

    def _entry(self, grammar: Keyed, slot: Slot, waived: frozenset[str]) -> "_Entry":
        key = (grammar, slot.kind, waived)
        with self._lock:
            found = self._entries.get(key)
            if found is not None:
                self._entries.move_to_end(key)
                return found
        made = _entry_of(cast(Grammar, grammar.value), slot, waived)
        with self._lock:
            self._entries[key] = made
            if len(self._entries) > _MOST_ENTRIES:
                self._entries.popitem(last=False)
        return made

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
        legal &= ~_spread(rule.breaks(move), (1, slot.size))[0]
    return legal


def _spread(values: Any, shape: tuple[int, ...]) -> Any:
    """An array broadcast to a shape; numpy takes long over one that has it already."""
    known = getattr(values, "shape", None) == shape
    return values if known else np.broadcast_to(values, shape)


def _entry_of(grammar: Grammar, slot: Slot, waived: frozenset[str]) -> _Entry:
    chosen = np.flatnonzero(_legal(grammar, slot, waived))
    columns = {name: numbers[chosen] for name, numbers in slot.arrays().items()}
    return _Entry(chosen, columns, single_weights(grammar, slot)[chosen])


def _active(grammar: Grammar, waived: frozenset[str], *, single: bool) -> list[Rule]:
    return [r for r in grammar.rules if r.single is single and r.name not in waived]


def _build(
    grammar: Grammar,
    slots: tuple[Slot, Slot],
    layer: Layer,
    waived: frozenset[str],
    entry: _Entry,
) -> Step:
    """Rules first, for pairs of choices; tastes and memory then for the legal arcs alone."""
    rules = _active(grammar, waived, single=False)
    before, was, now = slots[0].arrays(), dict(slots[0].facts), dict(slots[1].facts)
    pairs = Move(
        {name: numbers[None, :] for name, numbers in entry.columns.items()},
        now,
        {name: numbers[:, None] for name, numbers in before.items()},
        was,
        np.zeros((slots[0].size, 1), dtype=np.int64),
    )
    legal = np.ones((slots[0].size, len(entry.chosen)), dtype=np.bool_)
    for rule in rules:
        if not rule.remembers:
            legal &= ~_spread(rule.breaks(pairs), legal.shape)
    source, column = np.nonzero(legal[layer.choice])

    def along(source: Ints, column: Ints) -> Move:
        left = layer.choice[source]
        return Move(
            {name: numbers[column] for name, numbers in entry.columns.items()},
            now,
            {name: numbers[left] for name, numbers in before.items()},
            was,
            layer.memory[source],
        )

    move = along(source, column)
    for rule in rules:
        if rule.remembers:
            kept = ~_spread(rule.breaks(move), source.shape)
            source, column = source[kept], column[kept]
            move = along(source, column)
    weight = entry.weight[column]
    for taste in grammar.preferences:
        if not taste.single:
            weight = weight + taste.weigh(move)
    codes = grammar.memory.codes
    arrived = entry.chosen[column] * codes + grammar.memory.advance(move)
    marked = np.zeros(slots[1].size * codes, dtype=np.bool_)
    marked[arrived] = True
    reached = np.flatnonzero(marked)
    target = (np.cumsum(marked) - 1)[arrived]
    starts = np.zeros(layer.size + 1, dtype=np.int64)
    np.cumsum(np.bincount(source, minlength=layer.size), out=starts[1:])
    after = Layer(reached // codes, reached % codes, Keyed(reached.tobytes()))
    return Step(target, weight, starts, after)


def single_weights(grammar: Grammar, slot: Slot) -> Floats:
    """The tastes about single choices, one log weight a choice."""
    total = np.zeros((1, slot.size))
    move = single_move(slot)
    for taste in grammar.preferences:
        if taste.single:
            total = total + taste.weigh(move)
    return cast(Floats, _spread(total, (1, slot.size))[0])
