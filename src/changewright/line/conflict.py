"""Why no line exists: the path that breaks least, the rules it breaks, and what would help."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import cast

import numpy as np

from changewright.line.grammar import FORGETFUL, Grammar, Memory, Move, Rule
from changewright.line.slot import Bools, Floats, Ints, Slot
from changewright.line.tables import move_between, single_move

__all__ = ["Conflict", "Repair", "Waiver", "conflict_of"]


@dataclass(frozen=True, slots=True, order=True)
class Waiver:
    """One rule waived at one slot."""

    index: int
    rule: str


@dataclass(frozen=True, slots=True)
class Repair:
    """Waivers that together let a line exist, and their cost in blame. ``words`` says them."""

    cost: float
    waivers: frozenset[Waiver]
    words: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """Where the rules collide first, which rules in all, and repairs that were tried and work,
    the cheapest first."""

    bar: int
    beat: str
    rules: tuple[str, ...]
    detail: str
    repairs: tuple[Repair, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """The repairs in words."""
        return tuple(repair.words for repair in self.repairs)


@dataclass(frozen=True, slots=True)
class _Breach:
    index: int
    rule: Rule
    label: str


def conflict_of(
    grammar: Grammar,
    slots: tuple[Slot, ...],
    waived: frozenset[Waiver],
    helps: Callable[[frozenset[Waiver]], bool],
) -> Conflict:
    """Explain a trellis without lines. ``helps`` tries waivers on the real trellis."""
    search = _Search(grammar, slots, waived)
    breaches = search.least(frozenset())
    rules = tuple(dict.fromkeys(b.rule.name for b in breaches))
    paths = [breaches, *(search.least(frozenset({name})) for name in rules)]
    tried: dict[frozenset[Waiver], Repair] = {}
    for path in paths:
        repair = _repair(path, slots)
        if path and repair.waivers not in tried and helps(repair.waivers):
            tried[repair.waivers] = repair
    where = slots[breaches[0].index] if breaches else slots[0]
    detail = "; ".join(_where(slots[b.index], b) for b in breaches[:6])
    ranked = sorted(tried.values(), key=lambda r: (r.cost, sorted(r.waivers)))
    return Conflict(where.bar, where.beat, rules, detail, tuple(ranked))


def _where(slot: Slot, breach: _Breach) -> str:
    return f"bar {slot.bar} beat {slot.beat}: {breach.label} breaks '{breach.rule.name}'"


def _repair(path: list[_Breach], slots: tuple[Slot, ...]) -> Repair:
    cost = sum(b.rule.blame for b in path)
    waivers = frozenset(Waiver(b.index, b.rule.name) for b in path)
    grouped: dict[str, list[str]] = {}
    for breach in path:
        words = breach.rule.repair or f"waive '{breach.rule.name}'"
        place = f"bar {slots[breach.index].bar} beat {slots[breach.index].beat}"
        if place not in grouped.setdefault(words, []):
            grouped[words].append(place)
    return Repair(
        cost, waivers, " and ".join(f"{w} in {_listed(places)}" for w, places in grouped.items())
    )


def _listed(places: list[str]) -> str:
    if len(places) > 4:
        places = [*places[:3], f"{len(places) - 3} more places"]
    return places[0] if len(places) == 1 else f"{', '.join(places[:-1])} and {places[-1]}"


class _Search:
    """Shortest paths over all choices, legal or not, where a breach costs its rule's blame."""

    def __init__(
        self, grammar: Grammar, slots: tuple[Slot, ...], waived: frozenset[Waiver]
    ) -> None:
        self.grammar = grammar
        self.slots = slots
        self.waived = {(w.index, w.rule) for w in waived}
        remembered = any(rule.remembers for rule in grammar.rules)
        self.memory: Memory = grammar.memory if remembered else FORGETFUL
        self.singles: dict[object, list[tuple[Rule, Bools]]] = {}
        self.tables: dict[object, tuple[list[tuple[Rule, Bools]], Ints]] = {}

    def least(self, barred: frozenset[str]) -> list[_Breach]:
        """The breaches of the cheapest path that breaks none of the ``barred`` rules; empty
        where there is none."""
        size = self.slots[0].size
        cost = np.full((size, self.memory.codes), np.inf)
        begin = self.memory.begin(size)
        cost[np.arange(size), begin] = self._single_cost(0, barred) + self._held(0)
        costs, back = [cost.reshape(-1)], []
        for index, pair in enumerate(pairwise(self.slots), start=1):
            best, came = self._advance(index, pair, costs[-1], barred)
            costs.append(best)
            back.append(came)
        state = int(np.argmin(costs[-1]))
        if not np.isfinite(costs[-1][state]):
            return []
        states = [state]
        for came in reversed(back):
            states.append(int(came[states[-1]]))
        return list(self._breaches(states[::-1]))

    def _advance(
        self, index: int, pair: tuple[Slot, Slot], cost: Floats, barred: frozenset[str]
    ) -> tuple[Floats, Ints]:
        broken, target = self._moves(pair)
        price = np.zeros(target.shape)
        for rule, mask in broken:
            if (index, rule.name) not in self.waived:
                price = price + np.where(mask, np.inf if rule.name in barred else rule.blame, 0.0)
        arrival = self._single_cost(index, barred) + self._held(index)
        total = cost[:, None] + price + arrival[None, :]
        best = np.full(pair[1].size * self.memory.codes, np.inf)
        np.minimum.at(best, target.reshape(-1), total.reshape(-1))
        came = np.zeros(len(best), dtype=np.int64)
        source, column = np.nonzero(total <= best[target])
        came[target[source, column]] = source
        return best, came

    def _moves(self, pair: tuple[Slot, Slot]) -> tuple[list[tuple[Rule, Bools]], Ints]:
        key = (pair[0].kind, pair[1].kind)
        if key not in self.tables:
            codes = self.memory.codes
            states = np.arange(pair[0].size * codes)
            move = move_between(pair, states // codes, states % codes)
            shape = (len(states), pair[1].size)
            rules = [r for r in self.grammar.rules if not r.single]
            masks = [(r, cast(Bools, np.broadcast_to(r.breaks(move), shape))) for r in rules]
            memory = np.broadcast_to(self.memory.advance(move), shape)
            self.tables[key] = (masks, np.arange(pair[1].size)[None, :] * codes + memory)
        return self.tables[key]

    def _single_masks(self, index: int) -> Iterable[tuple[Rule, Bools]]:
        slot = self.slots[index]
        if slot.kind not in self.singles:
            move: Move = single_move(slot)
            self.singles[slot.kind] = [
                (rule, cast(Bools, np.broadcast_to(rule.breaks(move), (1, slot.size))[0]))
                for rule in self.grammar.rules
                if rule.single
            ]
        return [(r, m) for r, m in self.singles[slot.kind] if (index, r.name) not in self.waived]

    def _single_cost(self, index: int, barred: frozenset[str]) -> Floats:
        cost = np.zeros(self.slots[index].size)
        for rule, mask in self._single_masks(index):
            cost = cost + np.where(mask, np.inf if rule.name in barred else rule.blame, 0.0)
        return cost

    def _held(self, index: int) -> Floats:
        lean = self.slots[index].lean
        if not lean:
            return np.zeros(self.slots[index].size)
        return np.where(np.isfinite(np.array(lean)), 0.0, np.inf)

    def _breaches(self, states: list[int]) -> Iterable[_Breach]:
        codes = self.memory.codes
        for index, state in enumerate(states):
            slot, choice = self.slots[index], state // codes
            for rule, mask in self._single_masks(index):
                if mask[choice]:
                    yield _Breach(index, rule, slot.label(choice))
            if index:
                yield from self._move_breaches(index, states[index - 1], choice)

    def _move_breaches(self, index: int, before: int, choice: int) -> Iterable[_Breach]:
        pair = (self.slots[index - 1], self.slots[index])
        label = f"{pair[0].label(before // self.memory.codes)}-{pair[1].label(choice)}"
        for rule, mask in self._moves(pair)[0]:
            if mask[before, choice] and (index, rule.name) not in self.waived:
                yield _Breach(index, rule, label)
