"""The best path through a chorus of states, with the last chord leading to the first."""

from collections.abc import Sequence
from itertools import pairwise

from changewright.reading.grammar import arrivals, states_of
from changewright.reading.heard import Event

__all__ = ["best_path"]

Row = list[float]
Table = tuple[tuple[float, ...], ...]


def best_path(events: Sequence[Event], extra: Sequence[Sequence[float]]) -> tuple[float, list[int]]:
    """Find the cheapest cyclic path exactly: total cost and one state index for each event.

    ``extra`` adds a cost to each state of each event (keys, pins); ``inf`` forbids. The chorus
    comes round again, so the step from the last event to the first is paid too. The states of
    the first event are tried in the order of a lower bound, until the bound passes the best.
    """
    own = [
        [cost + more for (_, cost), more in zip(states_of(e.kind), added, strict=True)]
        for e, added in zip(events, extra, strict=True)
    ]
    steps = [arrivals(a.kind, b.kind, (b.root - a.root) % 12) for a, b in pairwise(events)]
    first, last = events[0], events[-1]
    turn = arrivals(last.kind, first.kind, (first.root - last.root) % 12)
    bounds = _backward(own, steps, turn)
    best: tuple[float, list[int]] = (float("inf"), [])
    for start in sorted(range(len(bounds)), key=bounds.__getitem__):
        if bounds[start] >= best[0]:
            break
        found = _forward(own, steps, turn[start], start)
        best = min(best, found)
    return best


def _backward(own: list[Row], steps: list[Table], turn: Table) -> Row:
    """For each state of the first event, a cost that no closed path from it goes below."""
    ahead = [min(row[i] for row in turn) for i in range(len(own[-1]))]
    for index in range(len(own) - 2, -1, -1):
        paid = [a + b for a, b in zip(ahead, own[index + 1], strict=True)]
        columns = zip(*steps[index], strict=True)
        ahead = [min(map(float.__add__, column, paid)) for column in columns]
    return [a + b for a, b in zip(ahead, own[0], strict=True)]


def _forward(
    own: list[Row], steps: list[Table], closing: Sequence[float], start: int
) -> tuple[float, list[int]]:
    infinity = float("inf")
    costs = [infinity] * len(own[0])
    costs[start] = own[0][start]
    trails: list[list[int]] = []
    for index, step in enumerate(steps, 1):
        here, trail = [], []
        for row, unary in zip(step, own[index], strict=True):
            sums = list(map(float.__add__, row, costs))
            low = min(sums)
            here.append(low + unary)
            trail.append(sums.index(low))
        costs = here
        trails.append(trail)
    ends = [a + b for a, b in zip(costs, closing, strict=True)]
    low = min(ends)
    state = ends.index(low)
    path = [state]
    for trail in reversed(trails):
        state = trail[state]
        path.append(state)
    return low, path[::-1]
