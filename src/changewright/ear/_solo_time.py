"""Where a solo's notes lie in time: offset, swing, phrases and space. J10 to J13."""

from itertools import groupby, pairwise

import numpy as np

from changewright.ear._solo_notes import SoloNote
from changewright.ear.measure import Measure
from changewright.music.clock import Clock

__all__ = ["measures", "phrases"]

_LATE_BY_TEMPO = (
    (120, (17.0, 31.0, 46.0)),
    (150, (10.0, 25.0, 50.0)),
    (180, (7.0, 25.0, 41.0)),
    (210, (4.0, 17.0, 31.0)),
    (240, (2.0, 11.0, 19.0)),
    (1000, (-6.0, 6.0, 17.0)),
)
"""Up to a tempo: median lateness of solos on record in ms. Source: measured, see measure.py."""


_NOTES_A_BEAT = (
    (90, 3.02), (120, 2.07), (150, 1.77), (180, 1.60), (210, 1.42), (240, 1.32), (1000, 1.29),
)  # fmt: skip
"""Up to a tempo: notes a beat from the first to the last, rests counted in, the mean of solos on
record. Source: measured, see measure.py."""


def measures(notes: list[SoloNote], clock: Clock) -> list[Measure]:
    """What can be counted of J10 to J13."""
    found = [
        *_offset(notes, clock),
        *_swing(notes),
        *_space(notes),
        *_density(notes, clock),
        *_starts(notes),
    ]
    return [m for m in found if m.count]


def phrases(notes: list[SoloNote]) -> list[list[SoloNote]]:
    """The solo cut at its rests."""
    return [list(group) for _, group in groupby(notes, key=lambda n: n.phrase)]


def _offset(notes: list[SoloNote], clock: Clock) -> list[Measure]:
    late = np.array([1000 * n.lateness_s for n in notes if n.on_beat])
    if len(late) < 5:
        return []
    record = next(spread for limit, spread in _LATE_BY_TEMPO if clock.bpm < limit)
    return [
        Measure(
            "J10",
            "Place against the beat",
            float(np.median(late)),
            "ms behind",
            len(late),
            None,
            record,
        ),
        Measure("J10s", "Spread around that place", float(late.std()), "ms", len(late)),
    ]


def _swing(notes: list[SoloNote]) -> list[Measure]:
    """Long to short in beats that hold exactly two notes, the second off the beat."""
    ratios = []
    for a, b in pairwise(notes):
        place = b.at - a.beat
        if a.on_beat and 0.4 < place < 0.8 and not b.on_beat:
            ratios.append(place / (1 - place))
    if len(ratios) < 4:
        return []
    low, middle, high = np.percentile(ratios, [25, 50, 75])
    return [
        Measure(
            "J11",
            "Offbeat place",
            float(middle),
            "long to short",
            len(ratios),
            None,
            (1.04, 1.33, 1.78),
            f"middle half {low:.2f} to {high:.2f}",
        )
    ]


def _space(notes: list[SoloNote]) -> list[Measure]:
    if not notes:
        return []
    cut = phrases(notes)
    lengths = [p[-1].end - p[0].at for p in cut]
    whole = notes[-1].end - notes[0].at
    sounding = sum(max(0.0, n.end - n.at) for n in notes)
    rest = max(0.0, 1 - sounding / whole) if whole > 0 else 0.0
    return [
        Measure(
            "J12",
            "Phrase length",
            float(np.median(lengths)),
            "beats",
            len(cut),
            None,
            (1.7, 6.4, 19.8),
        ),
        Measure("J12r", "Space", rest, "share", len(notes), None, (0.24, 0.33, 0.43)),
    ]


def _density(notes: list[SoloNote], clock: Clock) -> list[Measure]:
    beats = notes[-1].end - notes[0].at if notes else 0.0
    if beats < 1:
        return []
    middle = next(value for limit, value in _NOTES_A_BEAT if clock.bpm < limit)
    value = len(notes) / beats
    return [Measure("J12d", "Density", value, "notes a beat", len(notes), middle=middle)]


def _starts(notes: list[SoloNote]) -> list[Measure]:
    first = [p[0] for p in phrases(notes)]
    if not first:
        return []
    on_one = sum(n.on_beat and n.beat % 4 == 0 for n in first)
    off = sum(not n.on_beat for n in first)
    places = len({round(2 * n.at) % 8 for n in first})
    return [
        Measure("J13", "Phrases that start on beat 1", on_one / len(first), "share", len(first)),
        Measure("J13o", "Phrases that start off the beat", off / len(first), "share", len(first)),
        Measure("J13d", "Places in the bar where phrases start", places, "of 8", len(first)),
    ]
