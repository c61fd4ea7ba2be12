"""Lines that aim: targets on strong beats, entered by approach notes or enclosures."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

import numpy as np

from changewright.lesson.family import Plan
from changewright.lesson.ground import Ground, Patch
from changewright.lesson.lines import line_plan
from changewright.lesson.rhythm import Need, compose_rhythm
from changewright.lesson.spots import Approach, Spot, spots_of, swell
from changewright.theory.pitch import Degree

__all__ = ["aim", "aimed_plan", "targets_named"]

Aims = Mapping[int, Approach]
"""Which approach leads into the first beat of which bar, by index of bar."""


def targets_named(patch: Patch, names: str) -> tuple[Degree, ...]:
    """The chord's tones for names such as ``"1 3 5"``; third and fifth stand for what the chord
    has in their place."""
    chord = patch.chord
    has = {"1": Degree(1), "3": chord.third, "5": chord.fifth, "7": chord.seventh}
    found = tuple(d for name in names.split() if (d := has[name]) is not None)
    return found or chord.four


def aim(ground: Ground, dice: Random, figures: Sequence[Approach], share: float) -> Aims:
    """Choose bars to aim at and how: where the chord is new rather than where it lasts."""
    aims: dict[int, Approach] = {}
    bars = ground.reading.bars
    for index in range(1, len(bars)):
        patch = ground.patch_at(bars[index].start)
        before = ground.patch_at(bars[index - 1].start)
        if patch is None or before is None or bars[index - 1].length < 3:
            continue
        if dice.random() < (share if patch.nth == 0 else share * 0.6):
            aims[index] = dice.choice(list(figures))
    return aims or ({1: figures[0]} if len(bars) > 1 else {})


def aimed_plan(
    ground: Ground,
    dice: Random,
    aims: Aims,
    names: str,
    pool: str,
    instruction: str,
    needs: Mapping[int, Need] | None = None,
    motif: float = 2.0,
    closing: bool = False,
) -> Plan:
    """A line over ``pool`` whose aims are met: rhythm first, told what the aims need.

    ``names`` are the degrees aimed at; ``needs`` replaces the usual breath every four bars;
    ``closing`` makes the last note one of the degrees too.
    """
    bars = ground.reading.bars
    rng = np.random.default_rng(dice.getrandbits(64))
    asked = _needs(ground, aims) if needs is None else needs
    cells = compose_rhythm(ground.level, bars, asked, rng, 0.5, motif)
    timed = [
        (bar.start + o, d) for bar, cell in zip(bars, cells, strict=True) for o, d in cell.notes
    ]
    spots = _marked(ground, spots_of(ground, timed, pool), aims, names)
    if closing and not spots[-1].target:
        home = targets_named(spots[-1].patch, names)
        spots[-1] = replace(spots[-1], target=home, pool=home)
    spots = swell(spots, ground, dice)
    return line_plan(ground, spots, instruction)


def _needs(ground: Ground, aims: Aims) -> dict[int, Need]:
    needs: dict[int, Need] = {}
    last, every = len(ground.reading.bars) - 1, ground.bars_a_breath
    for index in range(last + 1):
        tail = len(aims[index + 1].offsets) if index + 1 in aims else 0
        breathes = index % every == every - 1 or index == last
        rest = Fraction(1) if breathes and not tail else Fraction(0)
        needs[index] = Need(on_one=index in aims, tail=tail, rest=rest)
    return needs


def _marked(ground: Ground, spots: Sequence[Spot], aims: Aims, names: str) -> list[Spot]:
    marked = list(spots)
    at = {spot.at: i for i, spot in enumerate(marked)}
    for index, figure in aims.items():
        target = at[ground.reading.bars[index].start]
        spot = marked[target]
        degrees = targets_named(spot.patch, names)
        count = len(figure.offsets)
        marked[target] = replace(spot, target=degrees, pool=degrees, approach=figure)
        for place in range(count):
            lead = target - count + place
            marked[lead] = replace(
                marked[lead], patch=spot.patch, pool=degrees, approach=figure, place=place
            )
    return marked
