"""What a player falls back on: a figure that keeps coming. J15h.

A figure is four notes in a row within a phrase, known by its intervals wherever it starts; how
often it would come by chance is told by how common each of its intervals is in this solo.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from itertools import pairwise
from math import prod

from changewright.ear._solo_notes import SoloNote, bar_of, some_bars
from changewright.ear._solo_time import phrases
from changewright.ear._words import name_as_read
from changewright.ear.measure import Measure
from changewright.reading.model import Reading
from changewright.theory.instrument import Instrument

__all__ = ["HABIT", "measures"]

SIZE = 4
LEAST = 3  # times, not overlapping, before anything is told
HABIT = "J15h"

Shape = tuple[int, ...]
Places = dict[Shape, list[Sequence[SoloNote]]]


def measures(
    notes: Sequence[SoloNote], reading: Reading, instrument: Instrument | None
) -> list[Measure]:
    """The figure that comes most often, as a share of all figures; nothing where none comes three
    times. ``chance`` is its share if the solo's intervals came in any order."""
    cut = phrases(list(notes))
    places, count = _figures(cut)
    shape = max(places, key=lambda s: (len(places[s]), sum(map(abs, s))), default=None)
    if shape is None or len(places[shape]) < LEAST:
        return []
    intervals = Counter(b.midi - a.midi for line in cut for a, b in pairwise(line))
    chance = prod(intervals[step] / intervals.total() for step in shape)
    found = places[shape]
    names = " ".join(name_as_read(n.pc, reading.key, instrument) for n in found[0])
    bars = list(dict.fromkeys(bar_of(line[0], reading) for line in found))
    where = f"bar{'s' if len(bars) > 1 else ''} {some_bars(bars)}"
    detail = f"first {names}, {len(found)} times, from {where}"
    return [
        Measure(
            HABIT, "The figure heard most", len(found) / count, "share", count, chance, None, detail
        )
    ]


def _figures(cut: Sequence[Sequence[SoloNote]]) -> tuple[Places, int]:
    """Where each shape stands, overlaps left out, and how many figures there are in all. A run of
    one note is no figure."""
    places: Places = defaultdict(list)
    count, free = 0, dict[Shape, float]()
    for line in cut:
        for k in range(len(line) - SIZE + 1):
            figure = line[k : k + SIZE]
            shape = tuple(b.midi - a.midi for a, b in pairwise(figure))
            count += 1
            if any(shape) and figure[0].at >= free.get(shape, 0.0):
                places[shape].append(figure)
                free[shape] = figure[-1].at
    return places, count
