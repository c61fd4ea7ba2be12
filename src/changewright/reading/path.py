"""The best path through a chorus of states, with the last chord leading to the first."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from operator import add

from changewright.reading.grammar import Role, arrivals, states_of
from changewright.reading.heard import Event, Kind

__all__ = ["INFINITY", "Alike", "Lattice", "Row", "Standing"]

Standing = tuple[Role, int]
"""A role, and the pitch class of the tonic it is played to."""
Alike = tuple[Kind, int, bool, bool]
"""Events that are alike in this cost the same in any key: kind, root, long, still."""
Row = list[float]
Table = list[Row]
INFINITY = float("inf")


class Lattice:
    """All states of all events whose tonic is one of ``tonics``, and the costs between them.

    It is built once for a chorus; each supposed key then adds its own costs. A tonic that no
    chord shows needn't be tried, which is what keeps the lattice small.
    """

    def __init__(self, events: Sequence[Event], tonics: Iterable[int]) -> None:
        wanted = frozenset(tonics)
        kept = [_kept(event, wanted) for event in events]
        self.events = events
        self.states = [
            [(role, (e.root + offset) % 12) for _, (role, offset), _ in own]
            for e, own in zip(events, kept, strict=True)
        ]
        self.alike: list[Alike] = [(e.kind, e.root, e.is_long, e.is_still) for e in events]
        self.own = [[cost for _, _, cost in own] for own in kept]
        self.kept = [[index for index, _, _ in own] for own in kept]
        seen: dict[tuple[object, ...], Table] = {}
        around = [*zip(events, self.kept, strict=True), (events[0], self.kept[0])]
        self.steps = [_step(a, b, seen) for a, b in pairwise(around)]
        turned = {id(step): list(zip(*step, strict=True)) for step in seen.values()}
        self._columns = [turned[id(step)] for step in self.steps]
        self._lowest_turn = [min(column) for column in self._columns[-1]]

    def bounds(self, added: Sequence[Row]) -> Row:
        """For each state of the first event, a cost that no closed path from it goes below."""
        own = self._with(added)
        return _sum(self._ahead(own, self._lowest_turn)[0], own[0])

    def best(self, added: Sequence[Row], bounds: Row | None = None) -> tuple[float, list[int]]:
        """Find the cheapest closed path exactly: total cost and one state index for each event.

        ``added`` is a cost for each state of each event (keys, pins); infinity forbids. The
        chorus comes round again, so the step from the last event to the first is paid too. The
        first event's states are tried in the order of their bounds until these pass the best.
        """
        bounds = self.bounds(added) if bounds is None else bounds
        own = self._with(added)
        best: tuple[float, list[int]] = (INFINITY, [])
        for start in sorted(range(len(bounds)), key=bounds.__getitem__):
            if bounds[start] >= best[0]:
                break
            best = min(best, self._through(own, start))
        return best

    def margins(self, added: Sequence[Row], start: int) -> list[Row]:
        """For each state of each event, the cost of the best closed path through it.

        ``start`` is the first event's state on the best path, which stays.
        """
        own = self._with(added)
        ahead = self._ahead(own, self.steps[-1][start])
        costs = [own[0][i] if i == start else INFINITY for i in range(len(own[0]))]
        found = [_sum(costs, ahead[0])]
        for step, unary, rest in zip(self.steps, own[1:], ahead[1:], strict=False):
            costs = [
                min(map(add, row, costs)) + cost for row, cost in zip(step, unary, strict=True)
            ]
            found.append(_sum(costs, rest))
        return found

    def _with(self, added: Sequence[Row]) -> list[Row]:
        return [_sum(own, more) for own, more in zip(self.own, added, strict=True)]

    def _ahead(self, own: list[Row], closing: Row) -> list[Row]:
        """For each state, the cheapest way from it to the end of the chorus and round."""
        ahead = [closing]
        for index in range(len(own) - 2, -1, -1):
            paid = _sum(ahead[-1], own[index + 1])
            columns = self._columns[index]
            ahead.append([min(map(add, column, paid)) for column in columns])
        return ahead[::-1]

    def _through(self, own: list[Row], start: int) -> tuple[float, list[int]]:
        costs = [own[0][i] if i == start else INFINITY for i in range(len(own[0]))]
        trails: list[list[int]] = []
        for step, unary in zip(self.steps, own[1:], strict=False):
            sums = [list(map(add, row, costs)) for row in step]
            lows = list(map(min, sums))
            trails.append([row.index(low) for row, low in zip(sums, lows, strict=True)])
            costs = _sum(lows, unary)
        ends = _sum(costs, self.steps[-1][start])
        low = min(ends)
        state = ends.index(low)
        path = [state]
        for trail in reversed(trails):
            state = trail[state]
            path.append(state)
        return low, path[::-1]


def _kept(event: Event, wanted: frozenset[int]) -> list[tuple[int, Standing, float]]:
    return [
        (index, state, cost)
        for index, (state, cost) in enumerate(states_of(event.kind))
        if (event.root + state[1]) % 12 in wanted
    ]


def _step(
    a: tuple[Event, list[int]], b: tuple[Event, list[int]], seen: dict[tuple[object, ...], Table]
) -> Table:
    (before, columns), (after, rows) = a, b
    key = (before.kind, before.root, after.kind, after.root, after.again)
    if key not in seen:
        whole = arrivals(before.kind, after.kind, (after.root - before.root) % 12, after.again)
        seen[key] = [[whole[row][column] for column in columns] for row in rows]
    return seen[key]


def _sum(one: Row, other: Row) -> Row:
    return list(map(add, one, other))
