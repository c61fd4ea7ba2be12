"""A planned phrase: one short phrase comes back, word for word, wherever its changes stand.

Source: teaching practice: it fits the changes' qualities, enters on its beat from within a
third, and is left by step. Where it is varied, its rhythm stays and its notes give way to the
chord.
"""

from collections.abc import Sequence
from fractions import Fraction
from random import Random

import numpy as np

from changewright.errors import InputError
from changewright.lesson.cells import breath_of
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.lines import line_plan
from changewright.lesson.motif import phrase_places
from changewright.lesson.phrase_fit import Placement
from changewright.lesson.quoting import apart, fitting, quoted, quotes_of, room_for
from changewright.lesson.rhythm import Flow, Need, compose_rhythm, onsets_of
from changewright.lesson.spots import spots_of, swell
from changewright.music.bar import Quarters

__all__ = ["FAMILY"]


def plan(ground: Ground, dice: Random) -> Plan:
    """Free bars in the scale, and the phrase wherever its changes stand."""
    places = _chosen(ground, dice)
    bars = ground.reading.bars
    needs = room_for({i: Need(rest=_rest(ground, i)) for i in range(len(bars))}, places)
    rng = np.random.default_rng(dice.getrandbits(64))
    cells = compose_rhythm(ground.level, bars, needs, rng, Flow(0.35))
    free = swell(spots_of(ground, onsets_of(bars, cells), "scale"), ground, dice)
    spots = quoted(ground, free, places, leave=2)
    return line_plan(ground, spots, _instruction(ground, places), quotes_of(places))


def _chosen(ground: Ground, dice: Random) -> list[Placement]:
    """One phrase and its places, rather one that comes back; a teacher's own before ours."""
    strict = ground.variant != "varied"
    known = {
        name: apart([p for p in places if not (strict and p.adapted)])
        for name, places in fitting(ground).items()
    }
    known = {name: places for name, places in known.items() if places}
    made = [] if known else phrase_places(ground, dice, strict)
    if made:
        return made
    if not known:
        raise InputError(
            "no phrase fits these changes",
            remedy="Choose another family, take a phrase of your own that fits, or use a chart "
            "whose chords last a bar.",
        )
    own = {p.name for p in ground.phrases}
    ranked = sorted(known, key=lambda n: (n not in own, len(known[n]) < 2))
    best = [n for n in ranked if _alike(n, ranked[0], known, own)]
    tried = FAMILY.fallbacks.index(ground.fallback)
    order = dice.sample(best, len(best)) + [n for n in ranked if n not in best]
    return known[order[tried % len(order)]]


def _alike(name: str, first: str, known: dict[str, list[Placement]], own: set[str]) -> bool:
    return (name in own) == (first in own) and (len(known[name]) < 2) == (len(known[first]) < 2)


def _rest(ground: Ground, index: int) -> Quarters:
    every, last = ground.bars_a_breath, len(ground.reading.bars) - 1
    breathes = index % every == every - 1 or index == last
    return breath_of(ground.reading.bars[index]) if breathes else Fraction(0)


def _instruction(ground: Ground, places: Sequence[Placement]) -> str:
    numbers = [str(ground.reading.bars[p.bar].number) for p in places]
    if len(numbers) == 1:
        return f"A set phrase starts in bar {numbers[0]}: know where it is before you get there."
    *most, last = numbers[1:]
    rest = f"bars {', '.join(most)} and {last}" if most else f"bar {last}"
    varied = ", its notes as the chord wants them" if any(p.adapted for p in places) else ""
    return f"The phrase of bar {numbers[0]} comes back in {rest}{varied}: hear it coming."


FAMILY = Family(
    id="planned-phrase",
    title="A planned phrase",
    since=4,
    about="one short phrase, word for word, wherever its changes stand",
    plan=plan,
    variants=("strict", "varied"),
    fallbacks=("", "second choice", "third choice", "fourth choice"),
)
