"""Space: play some bars, rest some bars, exactly.

Source: teaching practice; in the record 24 to 43 % of a solo's time is rest (aggregate
figures of the Weimar Jazz Database, ODbL).
"""

from fractions import Fraction
from random import Random

import numpy as np

from changewright.lesson.cells import breath_of
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.lines import line_plan
from changewright.lesson.rhythm import Flow, Need, compose_rhythm, onsets_of
from changewright.lesson.spots import spots_of, swell
from changewright.music.promise import Rests

__all__ = ["FAMILY"]


def plan(ground: Ground, dice: Random) -> Plan:
    """Phrases of the level's length over its pool, and silence between them."""
    play, rest = ground.level.phrase_bars
    if ground.variant:
        play, rest = map(int, ground.variant.split("-"))
    bars = ground.reading.bars
    cycle = play + rest
    needs: dict[int, Need] = {}
    for index, bar in enumerate(bars):
        place = index % cycle
        closing = place == play - 1
        breath = breath_of(bar) if closing else Fraction(0)
        needs[index] = Need(silent=place >= play, rest=breath)
    rng = np.random.default_rng(dice.getrandbits(64))
    cells = compose_rhythm(ground.level, bars, needs, rng, Flow(0.5))
    timed = onsets_of(bars, cells)
    pool: str = ground.level.setting("space", "pool", "chord")
    spots = swell(spots_of(ground, timed, pool), ground, dice)
    rests = [Rests(bar.start, bar.end) for i, bar in enumerate(bars) if needs[i].silent]
    told = f"Play {_bars(play)}, rest {_bars(rest)}, and count every one of them."
    return line_plan(ground, spots, told, rests)


def _bars(count: int) -> str:
    words = {1: "one bar", 2: "two bars", 3: "three bars", 4: "four bars"}
    return words.get(count, f"{count} bars")


FAMILY = Family(
    id="space",
    title="Play and rest",
    since=1,
    about="phrases of a given length with exact rests between them",
    plan=plan,
    variants=("1-1", "2-2", "3-1", "2-1", "4-4"),
)
