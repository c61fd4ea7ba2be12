"""Scales in thirds and in groups of 1-2-3-5: the same steps over every chord, up and down by turns.

Source: teaching practice.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from changewright.lesson.family import Plan
from changewright.lesson.ground import Ground, Patch
from changewright.lesson.lines import line_plan
from changewright.lesson.spots import Spot, phrased
from changewright.music.bar import Quarters
from changewright.music.line import Role
from changewright.music.promise import Quotes
from changewright.theory.pitch import Degree

__all__ = ["SHAPES", "shaped_plan"]

SHAPES = {
    "thirds": (0, 2, 1, 3, 2, 4, 3, 5, 4, 6, 5, 7, 6, 8, 7, 9),
    "groups": (0, 1, 2, 4, 2, 3, 4, 6, 4, 5, 6, 8, 6, 7, 8, 10),
}
"""Steps of the scale above the root, a note each."""

_TOLD = {
    "thirds": "The scale of each chord in thirds, up and down by turns.",
    "groups": "Groups of four from each chord's scale, 1-2-3-5, up and down by turns.",
}


@dataclass(frozen=True, slots=True)
class _Bar:
    patch: Patch
    notes: tuple[tuple[Quarters, Quarters], ...]
    degrees: tuple[Degree, ...]
    shape: tuple[int, ...]


def shaped_plan(ground: Ground, shape: str) -> Plan:
    """One chord after another in the shape; only the octave is chosen."""
    unit = min(Fraction(ground.level.setting("chord-scales", "unit", "1/2")), Fraction(1, 2))
    bars = [_bar(p, unit, SHAPES[shape], n % 2 == 1) for n, p in enumerate(ground.patches)]
    spots = phrased([spot for bar in bars for spot in _spots(bar)])
    quotes = [
        Quotes(b.patch.start, tuple(at - b.patch.start for at, _ in b.notes), b.shape) for b in bars
    ]
    return line_plan(ground, spots, _TOLD[shape], quotes)


def _bar(patch: Patch, unit: Quarters, steps: Sequence[int], down: bool) -> _Bar:
    count = max(1, min(int(patch.length // unit), len(steps)))
    used = steps[:count][::-1] if down else steps[:count]
    heights: list[int] = []
    degrees: list[Degree] = []
    for step in used:
        octave, place = divmod(step, len(patch.scale))
        degrees.append(patch.scale[place])
        heights.append(12 * octave + patch.scale[place].pc)
    timed = [(patch.start + unit * n, unit) for n in range(count - 1)]
    last = patch.start + unit * (count - 1)
    shape = tuple(h - heights[0] for h in heights)
    return _Bar(patch, (*timed, (last, patch.end - last)), tuple(degrees), shape)


def _spots(bar: _Bar) -> Iterator[Spot]:
    for index, ((at, duration), degree) in enumerate(zip(bar.notes, bar.degrees, strict=True)):
        link = bar.shape[index] - bar.shape[index - 1] if index else None
        role = Role.CHORD_TONE if degree in bar.patch.tones else Role.SCALE_TONE
        yield Spot(at, duration, bar.patch, (degree,), link=link, role=role)
