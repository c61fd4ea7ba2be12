"""Call and response: two bars given, two bars blank, with a model answer in the same rhythm.

Source: domain reference, family F12: an answer shares at least half the call's onsets.
"""

from dataclasses import replace
from fractions import Fraction
from random import Random

import numpy as np

from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.lines import (
    Spot,
    line_promises,
    line_trellis,
    spots_of,
    stays,
    swell,
    write_line,
)
from changewright.lesson.rhythm import Cell, Need, compose_rhythm
from changewright.music.bar import Quarters
from changewright.music.line import Note
from changewright.music.promise import Keeps, Promise

__all__ = ["FAMILY"]


def plan(ground: Ground, dice: Random) -> Plan:
    """Calls of two bars; each answer repeats the call's rhythm over the chords to come."""
    size = 1 if ground.variant == "one-bar" else 2
    bars = ground.reading.bars
    rng = np.random.default_rng(dice.getrandbits(64))
    needs = {i: Need(rest=Fraction(1)) for i in range(size - 1, len(bars), size)}
    cells = compose_rhythm(ground.level, bars, needs, rng, 0.5)
    timed: list[tuple[Quarters, Quarters]] = []
    blank: list[tuple[Quarters, Quarters]] = []
    for index, bar in enumerate(bars):
        answers = index // size % 2 == 1
        cell: Cell = cells[index - size] if answers else cells[index]
        timed += [(bar.start + o, d) for o, d in cell.fitted(bar.length).notes]
        if answers:
            blank.append((bar.start, bar.end))
    pool: str = ground.level.setting("call-and-response", "pool", "chord")
    spots = [_marked(s, blank) for s in swell(spots_of(ground, timed, pool), ground, dice)]
    trellis, pitches = line_trellis(ground, spots)

    def promise(notes: tuple[Note, ...]) -> tuple[Promise, ...]:
        asked = (
            Keeps(start, end, tuple(n.onset for n in notes if start <= n.onset < end))
            for start, end in blank
        )
        return (*asked, *line_promises(ground, spots, notes), *stays(spots))

    return Plan(
        trellis,
        write_line(spots, pitches),
        promise,
        "Play the call, then answer it: keep its rhythm, choose your own notes.",
    )


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
