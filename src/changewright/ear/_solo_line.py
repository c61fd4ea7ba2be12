"""What a solo's line is made of: intervals, rhythms, range, intonation. J14 to J17."""

from collections import defaultdict
from itertools import groupby, pairwise

import numpy as np

from changewright.ear._solo_notes import SoloNote
from changewright.ear._solo_time import phrases
from changewright.ear.measure import Measure
from changewright.music.clock import Clock
from changewright.theory.pitch import Name

__all__ = ["measures"]

LEAST_FOR_INTONATION, LONG_S = 5, 0.2
_NAMES = {Name(f).pc: str(Name(f)) for f in range(-5, 7)}


def measures(notes: list[SoloNote], clock: Clock) -> list[Measure]:
    """What can be counted of J14 to J17."""
    found = [*_intervals(notes), *_rhythms(notes), *_range(notes), *_intonation(notes)]
    return [m for m in found if m.count and clock.bpm]


def _intervals(notes: list[SoloNote]) -> list[Measure]:
    sizes = [b.midi - a.midi for p in phrases(notes) for a, b in pairwise(p)]
    if not sizes:
        return []
    count = len(sizes)

    def share(low: int, high: int) -> float:
        return sum(low <= abs(s) <= high for s in sizes) / count

    leaps = [(a, b) for a, b in pairwise(sizes) if abs(a) >= 5]
    turned = sum(a * b < 0 for a, b in leaps) / len(leaps) if leaps else 0.0
    return [
        Measure("J14", "Steps", share(1, 2), "share", count, middle=0.57),
        Measure("J14t", "Thirds", share(3, 4), "share", count, middle=0.27),
        Measure("J14w", "Wider", share(5, 127), "share", count, middle=0.12),
        Measure("J14r", "Repeated notes", share(0, 0), "share", count, middle=0.04),
        Measure("J14l", "Leaps turned back", turned, "share", len(leaps), middle=0.64),
    ]


def _rhythms(notes: list[SoloNote]) -> list[Measure]:
    """Bars by the eighths on which notes start."""
    bars = [
        frozenset(round(2 * (n.at - 4 * bar)) for n in group)
        for bar, group in ((b, list(g)) for b, g in groupby(notes, key=lambda n: int(n.at // 4)))
    ]
    if not bars:
        return []
    again = sum(bar in bars[:k] for k, bar in enumerate(bars))
    return [
        Measure("J15", "Bars whose rhythm came before", again / len(bars), "share", len(bars)),
        Measure("J15d", "Different bar rhythms", len(set(bars)) / len(bars), "share", len(bars)),
    ]


def _range(notes: list[SoloNote]) -> list[Measure]:
    if not notes:
        return []
    pitches = [n.midi for n in notes]
    low, high = min(pitches), max(pitches)
    detail = f"concert {_named(low)} to {_named(high)}"
    return [
        Measure("J16", "Range", high - low, "semitones", len(notes), None, (18, 24, 33), detail)
    ]


def _named(midi: int) -> str:
    """A note with its octave, C4 the middle one."""
    return str(Name(next(f for f in range(-5, 7) if Name(f).pc == midi % 12)).at(midi // 12 - 1))


def _intonation(notes: list[SoloNote]) -> list[Measure]:
    """Medians by pitch class, from long notes only; small samples say nothing."""
    by_class: dict[int, list[float]] = defaultdict(list)
    for note in notes:
        if note.length_s >= LONG_S:
            by_class[note.pc].append(note.cents)
    return [
        Measure(
            f"J17.{_NAMES[pc]}",
            f"Pitch of {_NAMES[pc]}",
            float(np.median(cents)),
            "cents",
            len(cents),
        )
        for pc, cents in sorted(by_class.items())
        if len(cents) >= LEAST_FOR_INTONATION
    ]
