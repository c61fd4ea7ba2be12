"""Call and response: two bars given, two bars blank, with a model answer in the same rhythm.

Source: teaching practice: an answer shares at least half the call's onsets.
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
from changewright.music.bar import Quarters
from changewright.music.promise import Keeps

__all__ = ["FAMILY"]


def plan(ground: Ground, dice: Random) -> Plan:
    """Calls of two bars; each answer repeats the call's rhythm over the chords to come."""
    size = 1 if ground.variant == "one-bar" else 2
    bars = ground.reading.bars
    rng = np.random.default_rng(dice.getrandbits(64))
    needs = {i: Need(rest=breath_of(bars[i])) for i in range(size - 1, len(bars), size)}
    cells = compose_rhythm(ground.level, bars, needs, rng, Flow(0.5))
    answered = [
        cells[i - size].fitted(bar.length) if i // size % 2 else cells[i]
        for i, bar in enumerate(bars)
    ]
    blank = [(bar.start, bar.end) for i, bar in enumerate(bars) if i // size % 2]
    timed = onsets_of(bars, answered)
    pool: str = ground.level.setting("call-and-response", "pool", "chord")
    spots = [_marked(s, blank) for s in swell(spots_of(ground, timed, pool), ground, dice)]
    asked = [
        Keeps(start, end, tuple(s.at for s in spots if start <= s.at < end)) for start, end in blank
    ]
    told = "Play the call, then answer it: keep its rhythm, choose your own notes."
    return line_plan(ground, spots, told, asked)


def _marked(spot: Spot, blank: list[tuple[Quarters, Quarters]]) -> Spot:
    return replace(spot, blank=any(start <= spot.at < end for start, end in blank))


FAMILY = Family(
    id="call-and-response",
    title="Call and response",
    since=1,
    about="bars given and bars blank, with a model answer in the call's rhythm",
    plan=plan,
    variants=("one-bar", "two-bar"),
)
