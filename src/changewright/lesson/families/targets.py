"""Targets with blanks: printed landings, and empty beats before them to fill.

Source: teaching practice. The sheet keeps a model answer in its blank notes.
"""

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from math import ceil
from random import Random

import numpy as np

from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.lines import line_plan
from changewright.lesson.rhythm import Flow, compose_rhythm
from changewright.lesson.spots import Spot, pool_of, spots_of, swell
from changewright.music.bar import Quarters
from changewright.music.line import Role

__all__ = ["FAMILY"]

Timed = tuple[Quarters, Quarters]


def plan(ground: Ground, dice: Random) -> Plan:
    """A target every few bars, held; the rest of the way blank."""
    level = ground.level
    every: int = level.setting("targets", "every", 1)
    beats: int = level.setting("targets", "blank_beats", 1)
    pool: str = level.setting("targets", "pool", "scale")
    aims: str = level.setting("targets", "aims", "guide")
    rng = np.random.default_rng(dice.getrandbits(64))
    fills = list(_fills(ground, every, beats, rng))
    spots: list[Spot] = []
    for start, end, fill in fills:
        spots += _target(ground, start, end, fill, aims)
        spots += [replace(s, blank=True, fresh=False) for s in spots_of(ground, fill, pool)]
    spots = swell(_joined(spots), ground, dice)
    blank = {1: "the blank beat", 2: "the blank beats"}.get(beats, "the blank bars")
    told = f"Play the printed targets; fill {blank} so that you arrive by step."
    return line_plan(ground, spots, told)


def _fills(
    ground: Ground, every: int, beats: int, rng: np.random.Generator
) -> Iterator[tuple[Quarters, Quarters, list[Timed]]]:
    """Each target's onset, the end of its stretch, and the rhythm of the blank part."""
    bars = ground.reading.bars
    cells = compose_rhythm(ground.level, bars, {}, rng, Flow(0.5))
    heads = sorted({*range(0, len(bars), every), len(bars) - 1})
    for index, after in zip(heads, [*heads[1:], len(bars)], strict=True):
        group = bars[index:after]
        start, end = group[0].start, group[-1].end
        if ground.patch_at(start) is None:
            continue
        last = after == len(bars)
        whole = beats >= 4 and len(group) > 1
        room = max(Fraction(1, 2), Fraction(int(end - start) - 1))
        blank = group[0].end if whole else end - min(Fraction(beats), room)
        fill = [
            (bar.start + o, min(d, bar.length - o))
            for bar, cell in zip(group, cells[index:after], strict=True)
            for o, d in cell.notes
            if bar.start + o >= blank
        ]
        if not last and not fill:
            beats_left = (blank + n for n in range(ceil(end - blank)))
            fill = [(at, min(Fraction(1), end - at)) for at in beats_left]
        yield start, end, [] if last else _filled(fill, end)


def _filled(fill: list[Timed], end: Quarters) -> list[Timed]:
    """Let the last note of a fill reach the target, so that the arrival is heard as a step."""
    at, length = fill[-1]
    if end - at <= 2:
        return [*fill[:-1], (at, end - at)]
    return [*fill[:-1], (at, min(length, end - 1 - at)), (end - 1, Fraction(1))]


def _target(
    ground: Ground, start: Quarters, end: Quarters, fill: list[Timed], aims: str
) -> list[Spot]:
    patch = ground.patch_at(start)
    if patch is None:
        return []
    first = fill[0][0] if fill else end
    degrees = pool_of(patch, aims)
    held = min(first - start, patch.end - start)
    return [
        Spot(start, held, patch, degrees, target=degrees, entry=2, role=Role.TARGET, ends=not fill)
    ]


def _joined(spots: list[Spot]) -> list[Spot]:
    """The first target is entered from nowhere, and so is one after silence."""
    joined: list[Spot] = []
    for index, spot in enumerate(spots):
        before = spots[index - 1] if index else None
        gap = before is None or spot.at - before.at - before.duration >= 1
        alone = gap and bool(spot.target)
        joined.append(replace(spot, fresh=gap, entry=99 if alone else spot.entry))
    return joined


FAMILY = Family(
    id="targets",
    title="Targets with blanks",
    since=2,
    about="printed targets on stated beats, blank beats before them to fill",
    plan=plan,
)
