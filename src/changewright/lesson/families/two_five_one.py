"""Two-five-one phrases wherever the changes have one, in major and minor.

Composed, or set phrases of the library moved to each key and mode. Source: teaching practice:
on the ii a chord tone or the 9th, into the V's 3rd, 7th or b9 by step, and by step into 1, 3, 5 or
9 of the I.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from random import Random

import numpy as np

from changewright.errors import InputError
from changewright.lesson.cells import breath_of, centre_of
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground, Patch
from changewright.lesson.lines import line_plan
from changewright.lesson.phrase_fit import Placement
from changewright.lesson.quoting import apart, fitting, quoted, quotes_of, room_for
from changewright.lesson.rhythm import Flow, Need, compose_rhythm, onsets_of
from changewright.lesson.spots import Spot, spots_of, swell
from changewright.music.bar import Quarters
from changewright.music.promise import Rests
from changewright.theory.pitch import Degree

__all__ = ["FAMILY"]


@dataclass(frozen=True, slots=True)
class _Cadence:
    two: Patch
    five: Patch
    one: Patch


def plan(ground: Ground, dice: Random) -> Plan:
    """A phrase for each ii-V-I, rests between."""
    cadences = list(_cadences(ground))
    if not cadences:
        raise InputError(
            "the changes have no ii-V-I",
            remedy="Choose another family, or a chart with a minor seventh chord that goes on to "
            "the dominant a fourth above and to its tonic.",
        )
    bars = ground.reading.bars
    places = _set(ground, dice, cadences)
    needs = room_for(_needs(ground, cadences), places)
    rng = np.random.default_rng(dice.getrandbits(64))
    cells = compose_rhythm(ground.level, bars, needs, rng, Flow(0.65))
    timed = onsets_of(bars, cells)
    aims = _aims(cadences)
    free = [_aimed(s, aims) for s in spots_of(ground, timed, "scale")]
    spots = quoted(ground, swell(free, ground, dice) if free else [], places)
    taken = {i for p in places for i in p.bars}
    rests = [
        Rests(bar.start, bar.end)
        for i, bar in enumerate(bars)
        if needs[i].silent and i not in taken
    ]
    told = _TOLD["phrases" if places else "composed"]
    return line_plan(ground, spots, told, [*rests, *quotes_of(places)])


_TOLD = {
    "composed": "Hear each two-five-one home: step into the five, and step into the one.",
    "phrases": "A set phrase for each two-five-one: learn it, and play it in the other keys too.",
}


def _set(ground: Ground, dice: Random, cadences: Sequence[_Cadence]) -> list[Placement]:
    """A phrase of the library for each cadence that one fits, where phrases are wanted."""
    wanted = ground.variant or dice.choice(("phrases", "composed"))
    if wanted == "composed":
        return []
    starts = {c.two.start: c.one.start for c in cadences}
    whole = {
        name: [p for p in places if _reaches(p, starts)]
        for name, places in fitting(ground, chords=3).items()
    }
    own = [p.name for p in ground.phrases]
    found: list[Placement] = []
    for start in starts:
        here = {n: p for n, places in whole.items() for p in places if p.start == start}
        names = [n for n in here if n in own] or list(here)
        again = [n for n in names if n in {p.phrase.name for p in found}]
        if names:
            found.append(here[dice.choice(again or names)])
    return apart(found, bars=0)


def _reaches(place: Placement, starts: Mapping[Quarters, Quarters]) -> bool:
    """Tell whether a phrase starts with a ii and comes home on its I."""
    home = starts.get(place.start)
    return home is not None and place.spans[-1].start == home


def _cadences(ground: Ground) -> Iterator[_Cadence]:
    """Every ii-V-I that does not overlap the one before it."""
    changes, taken = ground.changes, -1
    for index in range(len(changes) - 2):
        two, five, one = changes[index : index + 3]
        minor = two.chord.has(7, -1) and two.chord.has(3, -1)
        if index > taken and minor and five.chord.is_dominant and _fourths(two, five, one):
            taken = index + 1
            yield _Cadence(two, five, one)


def _fourths(*patches: Patch) -> bool:
    roots = [p.chord.tone(Degree(1)).pc for p in patches]
    return all((b - a) % 12 == 5 for a, b in pairwise(roots))


def _needs(ground: Ground, cadences: list[_Cadence]) -> dict[int, Need]:
    needs = {i: Need(silent=True) for i in range(len(ground.reading.bars))}
    numbers = {bar.number: i for i, bar in enumerate(ground.reading.bars)}
    for cadence in cadences:
        heads = {p.start: p for p in (cadence.two, cadence.five, cadence.one)}
        first, last = numbers[cadence.two.bar.number], numbers[cadence.one.bar.number]
        for index in range(first, last + 1):
            bar = ground.reading.bars[index]
            middle = bar.start + centre_of(bar)
            end = index == last
            needs[index] = Need(
                on_one=bar.start in heads,
                middle=middle in heads,
                rest=breath_of(bar) if end else Fraction(0),
                least=2 if index < last and ground.level.notes_a_bar[1] > 2 < bar.length else 0,
                most=3 if end else 99,
            )
    return needs


def _aims(cadences: list[_Cadence]) -> dict[object, tuple[tuple[Degree, ...], int]]:
    """The degrees to land on at each change of the phrases, and how near to come from."""
    aims: dict[object, tuple[tuple[Degree, ...], int]] = {}
    for cadence in cadences:
        two, five, one = cadence.two, cadence.five, cadence.one
        aims.setdefault(two.start, ((*two.tones, *_ninth(two)), 99))
        guide = tuple(d for d in five.scale if d.pc in (1, 4, 10))
        aims[five.start] = guide or five.tones, 2
        home = tuple(d for d in one.tones if d.number != 7)
        aims[one.start] = (*home, *_ninth(one)), 2
    return aims


def _ninth(patch: Patch) -> tuple[Degree, ...]:
    return tuple(d for d in patch.scale if d.pc == 2)


def _aimed(spot: Spot, aims: dict[object, tuple[tuple[Degree, ...], int]]) -> Spot:
    if spot.at not in aims or spot.at != spot.patch.start:
        return spot
    degrees, entry = aims[spot.at]
    return replace(spot, target=degrees, entry=99 if spot.fresh else entry)


FAMILY = Family(
    id="two-five-one",
    title="Two-five-one phrases",
    since=3,
    about="phrases over every ii-V-I, stepping into the V and into the I",
    plan=plan,
    variants=("phrases", "composed"),
)
