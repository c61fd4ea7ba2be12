"""Search the readings of a chorus: every likely home, the best path in each, the runners-up."""

from collections.abc import Sequence
from dataclasses import dataclass

from changewright.chart.model import Form
from changewright.reading.heard import Event
from changewright.reading.keys import Home, costs_under, likely_homes, shown_tonics
from changewright.reading.path import INFINITY, Lattice, Row, Standing
from changewright.reading.ties import WrittenPlace, places_of, tied
from changewright.theory.key import Key

__all__ = ["RUNNERS_UP", "Found", "search"]

RUNNERS_UP = 2
"""How many other readings are named."""


@dataclass(frozen=True, slots=True)
class _Trial:
    """A supposed home, searched: cost, path, and what the home adds to each state."""

    cost: float
    path: list[int]
    added: list[Row]
    home: Home


@dataclass(frozen=True, slots=True)
class Found:
    """What the search found: the home, the path, and what else there was."""

    home: Home
    cost: float
    standings: tuple[Standing, ...]
    margins: tuple[tuple[tuple[Standing, float], ...], ...]
    others: tuple[tuple[Home, float], ...]
    places: tuple[WrittenPlace, ...]


def search(form: Form, events: Sequence[Event], pinned: Sequence[Key | None]) -> Found:
    """Find the best reading of a chorus; ``pinned`` are the keys its author fixed, event by event.

    Repeats are made to agree, and every state of every event is told how much the best reading
    through it costs more.
    """
    supposed = likely_homes(events, form.key)
    wanted = {key.tonic.pc for key in pinned if key is not None}
    lattice = Lattice(events, shown_tonics(events, supposed) | wanted)
    best, rivals = _trials(lattice, supposed, pinned)
    home = best.home
    places = places_of(events, form.bars, form.changes)
    tied_cost, path, forced = tied(lattice, best.added, places, (best.cost - home.cost, best.path))
    margins = lattice.margins(forced, path[0])
    margins[0] = [max(cost, tied_cost) for cost in lattice.bounds(forced)]
    return Found(
        home,
        tied_cost + home.cost,
        tuple(states[i] for states, i in zip(lattice.states, path, strict=True)),
        tuple(
            tuple((s, c - tied_cost) for s, c in zip(states, row, strict=True))
            for states, row in zip(lattice.states, margins, strict=True)
        ),
        _closest(home, [(other, cost - best.cost) for other, cost in rivals]),
        tuple(places),
    )


def _trials(
    lattice: Lattice, supposed: Sequence[Home], pinned: Sequence[Key | None]
) -> tuple[_Trial, list[tuple[Home, float]]]:
    """The best reading over all supposed homes, and a lower bound for each of the others.

    A home whose bound already passes the best found needn't be searched.
    """
    bounded = []
    for home in supposed:
        added = _with_pins(lattice, costs_under(home, lattice), pinned)
        bounds = lattice.bounds(added)
        bounded.append((min(bounds) + home.cost, bounds, added, home))
    bounded.sort(key=lambda one: one[0])
    best: _Trial | None = None
    others = []
    for bound, bounds, added, home in bounded:
        if best is not None and bound >= best.cost:
            others.append((home, bound))
            continue
        cost, path = lattice.best(added, bounds)
        worse: _Trial | None = _Trial(cost + home.cost, path, added, home)
        if best is None or (worse is not None and worse.cost < best.cost):
            best, worse = worse, best
        if worse is not None:
            others.append((worse.home, worse.cost))
    if best is None:
        raise ValueError("no home was supposed")
    return best, sorted(others, key=lambda one: one[1])


def _closest(best: Home, trials: Sequence[tuple[Home, float]]) -> tuple[tuple[Home, float], ...]:
    """The runner-up keys, one entry for each tonic and mode."""
    seen = {(best.tonic, best.colour == "minor")}
    kept = []
    for home, more in trials:
        name = (home.tonic, home.colour == "minor")
        if name not in seen:
            kept.append((home, more))
            seen.add(name)
    return tuple(kept[:RUNNERS_UP])


def _with_pins(lattice: Lattice, added: list[Row], pinned: Sequence[Key | None]) -> list[Row]:
    return [
        row
        if key is None
        else [
            cost if tonic == key.tonic.pc else INFINITY
            for (_, tonic), cost in zip(states, row, strict=True)
        ]
        for states, row, key in zip(lattice.states, added, pinned, strict=True)
    ]
