"""The best path is the best: checked against the enumeration of all of them."""

from itertools import pairwise, product

import pytest

from changewright.reading.heard import events_of
from changewright.reading.keys import Home, costs_under
from changewright.reading.path import INFINITY, Lattice
from tests.unit.reading.forms import chart

TEXTS = ("Dm7|G7|Cmaj7", "C7|F7|C7 A7", "E7|Am|D7", "Cmaj7|B°7|Fm6")


def every_cost(lattice: Lattice, added: list[list[float]]) -> dict[tuple[int, ...], float]:
    """The cost of every closed path."""
    found = {}
    for path in product(*(range(len(states)) for states in lattice.states)):
        own = sum(lattice.own[i][s] + added[i][s] for i, s in enumerate(path))
        around = [*path, path[0]]
        steps = sum(lattice.steps[i][b][a] for i, (a, b) in enumerate(pairwise(around)))
        found[path] = own + steps
    return found


@pytest.fixture(params=TEXTS)
def lattice(request: pytest.FixtureRequest) -> Lattice:
    return Lattice(events_of(chart(request.param).bars), (0, 5, 9))


def test_best_is_the_least_of_all_paths(lattice: Lattice) -> None:
    added = costs_under(Home(0, "major"), lattice)
    every = every_cost(lattice, added)
    cost, path = lattice.best(added)
    assert cost == pytest.approx(min(every.values()))
    assert every[tuple(path)] == pytest.approx(cost)


def test_bounds_are_never_above_a_path(lattice: Lattice) -> None:
    added = costs_under(Home(0, "major"), lattice)
    bounds = lattice.bounds(added)
    for path, cost in every_cost(lattice, added).items():
        assert bounds[path[0]] <= cost + 1e-9


def test_margins_are_the_best_through_each_state(lattice: Lattice) -> None:
    added = costs_under(Home(0, "major"), lattice)
    _, best = lattice.best(added)
    margins = lattice.margins(added, best[0])
    every = {p: c for p, c in every_cost(lattice, added).items() if p[0] == best[0]}
    for i, row in enumerate(margins):
        for state, found in enumerate(row):
            through = [c for p, c in every.items() if p[i] == state]
            assert found == pytest.approx(min(through, default=INFINITY))


def test_forbidden_states_are_not_taken(lattice: Lattice) -> None:
    added = costs_under(Home(0, "major"), lattice)
    _, free = lattice.best(added)
    added[1][free[1]] = INFINITY
    cost, path = lattice.best(added)
    assert path[1] != free[1]
    assert cost < INFINITY
