"""The form by heart: silence, and one note on the first beat of each section.

Source: teaching practice: one chorus in silence with a sign at each section, then with the bass
alone, then from a bar that somebody names; within a beat at each mark.
"""

from collections.abc import Iterator
from fractions import Fraction
from random import Random

from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.lines import line_plan
from changewright.lesson.spots import Spot
from changewright.music.bar import Bar
from changewright.music.promise import Rests

__all__ = ["FAMILY"]

_FEWEST = 3
_BARS = 4  # from mark to mark where a form has no sections to speak of


def plan(ground: Ground, dice: Random) -> Plan:
    """A chord tone where each section starts, and nothing between."""
    del dice  # the form leaves nothing to chance but the note itself
    spots = list(_marks(ground))
    ends = [*(s.at for s in spots[1:]), ground.end]
    rests = [Rests(s.at + s.duration, end) for s, end in zip(spots, ends, strict=True)]
    return line_plan(
        ground,
        spots,
        "One note on the first beat of each section, silence between: keep the form by heart, "
        "then with the bass alone, then from a bar that somebody names.",
        [rest for rest in rests if rest.end > rest.start],
    )


def _marks(ground: Ground) -> Iterator[Spot]:
    for bar in _heads(ground):
        patch = ground.patch_at(bar.start)
        if patch is not None:
            held = min(Fraction(1), patch.end - bar.start)
            yield Spot(
                bar.start, held, patch, patch.tones, target=patch.tones, fresh=True, ends=True
            )


def _heads(ground: Ground) -> list[Bar]:
    """The first bars of the sections; of every four bars where there are hardly any."""
    bars = [bar for bar in ground.reading.bars if ground.patch_at(bar.start) is not None]
    heads = [bar for bar in bars if bar.label]
    return heads if len(heads) >= _FEWEST else bars[::_BARS]


FAMILY = Family(
    id="form-by-heart",
    title="The form by heart",
    since=2,
    about="silence, and one note where each section starts",
    plan=plan,
)
