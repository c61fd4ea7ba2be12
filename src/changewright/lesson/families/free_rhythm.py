"""Chord tones in a free rhythm: a model line first, then the player's own.

Source: teaching practice: rests (a beat in two bars at first, two beats in four later),
at least three different bar rhythms in eight bars.
"""

from dataclasses import replace
from random import Random

import numpy as np

from changewright.lesson.cells import breath_of
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.lines import line_plan
from changewright.lesson.rhythm import Flow, Need, compose_rhythm, onsets_of
from changewright.lesson.spots import Spot, spots_of, swell

__all__ = ["FAMILY"]

_TONES = {"two": 2, "three": 3, "all": 4}


def plan(ground: Ground, dice: Random) -> Plan:
    """A line of chord tones in the level's rhythms, with a breath every few bars."""
    every = 2 if ground.level.number < 4 else ground.bars_a_breath
    bars = ground.reading.bars
    last = len(bars) - 1
    needs = {
        i: Need(rest=breath_of(bars[i]), most=3 if i == last else 99)
        for i in range(len(bars))
        if i % every == every - 1 or i == last
    }
    rng = np.random.default_rng(dice.getrandbits(64))
    cells = compose_rhythm(ground.level, bars, needs, rng, Flow(0.4))
    timed = onsets_of(bars, cells)
    count = _TONES[ground.variant or ground.level.setting("free-rhythm", "tones", "all")]
    spots = [_narrowed(s, count) for s in spots_of(ground, timed, "chord")]
    spots = swell(spots, ground, dice)
    words = {2: "Roots and thirds", 3: "Roots, thirds and fifths", 4: "Chord tones"}[count]
    return line_plan(
        ground,
        spots,
        f"{words} only: play this chorus, then keep the notes and make your own rhythm.",
    )


def _narrowed(spot: Spot, count: int) -> Spot:
    return replace(spot, pool=spot.patch.chord.four[:count])


FAMILY = Family(
    id="free-rhythm",
    title="Chord tones in a free rhythm",
    since=1,
    about="only chord tones of the current chord, in any rhythm, with rests",
    plan=plan,
    variants=("two", "three", "all"),
)
