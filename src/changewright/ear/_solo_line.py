"""What a solo's line is made of: intervals, rhythms, range. J14 to J16."""

from itertools import groupby, pairwise

from changewright.ear._solo_notes import SoloNote
from changewright.ear._solo_time import phrases
from changewright.ear._words import concert_name
from changewright.ear.measure import Measure
from changewright.music.clock import Clock
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key

__all__ = ["measures"]


def measures(
    notes: list[SoloNote], clock: Clock, key: Key, instrument: Instrument | None
) -> list[Measure]:
    """What can be counted of J14 to J16; notes are named as the player reads them."""
    found = [*_intervals(notes), *_rhythms(notes), *_range(notes, key, instrument)]
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


def _range(notes: list[SoloNote], key: Key, instrument: Instrument | None) -> list[Measure]:
    if not notes:
        return []
    pitches = [n.midi for n in notes]
    low, high = min(pitches), max(pitches)
    detail = " to ".join(_named(m, key, instrument) for m in (low, high))
    detail = detail if instrument else f"concert {detail}"
    return [
        Measure("J16", "Range", high - low, "semitones", len(notes), None, (18, 24, 33), detail)
    ]


def _named(midi: int, key: Key, instrument: Instrument | None) -> str:
    """A note with its octave as the player reads it, C4 the middle one."""
    name = concert_name(midi % 12, key)
    concert = next(p for p in map(name.at, range(-1, 10)) if p.midi == midi)
    return str(concert + instrument.written_up if instrument else concert)
