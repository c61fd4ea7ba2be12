"""Repeats: the same bars of the chart read the same each time they are played."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise

from changewright.music.bar import Bar, Change, Quarters
from changewright.reading.heard import Event
from changewright.reading.path import INFINITY, Lattice, Row, Standing

__all__ = ["WrittenPlace", "agreed", "jumps", "places_of", "tied"]

WrittenPlace = tuple[int, Fraction]
"""Where an event stands in the chart as written: source bar, and onset within it."""
_Times = tuple[range, ...]
_Trial = tuple[float, list[int], list[Row]]
_IN_TURN, _READINGS = 12, 3  # how many disagreements are weighed, and readings of each


def jumps(bars: Sequence[Bar]) -> frozenset[Quarters]:
    """The onsets of every bar that can be reached in two ways, at each of its times.

    Those are the bars that a repeat leads to, and the first bar: nothing sounds before it.
    """
    targets = {b.source for a, b in pairwise(bars) if b.source != a.source + 1}
    targets.add(bars[0].source)
    return frozenset(bar.start for bar in bars if bar.source in targets)


def places_of(
    events: Sequence[Event], bars: Sequence[Bar], changes: Sequence[Change]
) -> list[WrittenPlace]:
    """The written place of each event."""
    return [(bars[e.bar].source, changes[e.changes[0]].onset - bars[e.bar].start) for e in events]


def tied(
    lattice: Lattice,
    added: list[Row],
    places: Sequence[WrittenPlace],
    found: tuple[float, list[int]],
) -> tuple[float, list[int], list[Row]]:
    """Make the path agree wherever the same written bar is played again.

    Where two times disagree, each of their readings is imposed on all in turn, and the one with
    which the whole chorus costs least is kept. A chart that is nothing but such places would
    take for ever, so after the first few the reading of the first time is kept for all of them.
    Returns cost, path and the costs that force it.
    """
    trial: _Trial = (*found, added)
    times = _times(places)
    for _ in range(_IN_TURN):
        apart = _disagreeing(lattice, trial[1], times)
        if not apart:
            return trial
        readings = dict.fromkeys(_standings(lattice, trial[1], time) for time in apart[0])
        tried = list(readings)[:_READINGS]
        trials = [_forced(lattice, trial, [(apart[0], reading)]) for reading in tried]
        trial = min(trials, key=lambda one: one[0])
        times = [played for played in times if played != apart[0]]
    while apart := _disagreeing(lattice, trial[1], times):
        firsts = [(played, _standings(lattice, trial[1], played[0])) for played in apart]
        trial = _forced(lattice, trial, firsts)
        times = [played for played in times if played not in apart]
    return trial


def _forced(
    lattice: Lattice, trial: _Trial, readings: Iterable[tuple[_Times, tuple[Standing, ...]]]
) -> _Trial:
    """The best path with these readings imposed; the trial as it was where no path is left,
    because the author has pinned the same bar in two ways."""
    added = trial[2]
    for played, reading in readings:
        added = _imposed(lattice, added, played, reading)
    cost, path = lattice.best(added)
    return (cost, path, added) if cost < INFINITY else trial


def agreed(places: Sequence[WrittenPlace], tonics: Sequence[int], home: int) -> list[int]:
    """One key for each written place: where its times stand in different keys, that of the tune."""
    found: dict[WrittenPlace, int] = {}
    for place, tonic in zip(places, tonics, strict=True):
        found[place] = tonic if found.get(place, tonic) == tonic else home
    return [found[place] for place in places]


def _times(places: Sequence[WrittenPlace]) -> list[_Times]:
    """Stretches of events that are played more than once, with all their times."""
    where: dict[WrittenPlace, list[int]] = {}
    for i, place in enumerate(places):
        where.setdefault(place, []).append(i)
    found: list[_Times] = []
    i = 0
    while i < len(places):
        starts = where[places[i]]
        if starts[0] != i or len(starts) == 1:
            i += 1
            continue
        length = _shared(places, starts, where)
        found.append(tuple(range(s, s + length) for s in starts))
        i += length
    return found


def _shared(
    places: Sequence[WrittenPlace], starts: list[int], where: dict[WrittenPlace, list[int]]
) -> int:
    """For how many events all the times go on alike."""
    length = 1
    while starts[-1] + length < len(places):
        ahead = [places[s + length] for s in starts]
        if any(a != ahead[0] for a in ahead) or len(where[ahead[0]]) != len(starts):
            break
        if starts[0] + length == starts[1]:
            break
        length += 1
    return length


def _standings(lattice: Lattice, path: Sequence[int], time: range) -> tuple[Standing, ...]:
    return tuple(lattice.states[i][path[i]] for i in time)


def _disagreeing(lattice: Lattice, path: Sequence[int], times: Sequence[_Times]) -> list[_Times]:
    """The stretches whose times are read in more than one way."""
    return [
        played for played in times if len({_standings(lattice, path, time) for time in played}) > 1
    ]


def _imposed(
    lattice: Lattice,
    added: list[Row],
    times_played: Sequence[range],
    taken: Sequence[Standing],
) -> list[Row]:
    forced = list(added)
    for time in times_played:
        for i, wanted in zip(time, taken, strict=True):
            states = lattice.states[i]
            forced[i] = [
                cost if state == wanted else INFINITY
                for state, cost in zip(states, added[i], strict=True)
            ]
    return forced
