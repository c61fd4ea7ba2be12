"""Decide which notes a voice sang.

A voice glides into its notes, swells within them and is never quite still, so what tells an
instrument's notes misleads here. A sung note is a stretch on one level of pitch, anywhere between
the semitones: vibrato and wavering cost little, for they come back, and a step that stays pays for
a note of its own. A syllable helps a note to begin, but the level alone does not: a dip counts only
where the spectrum moves, too.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from changewright.ear._sight import TICK_S, Floats, Sight, keys_of
from changewright.ear._spans import Span, peaks
from changewright.ear.profile import Profile

__all__ = ["spans"]

FINE = 4
"""Levels of pitch in a semitone."""

VOICED, OFF, NEAR, FAR, NOTE, FLOOR = 0.68, 0.5, 0.2, 1.2, 0.3, 0.0129
"""What a tick on a level is worth, in units of log likelihood: that a voice sounds; each semitone
off the level, from :data:`NEAR` up to :data:`FAR`; the onset model's note. Source: these and
those below are measured, fitted on sung development lines of benchmarks/bench_ear.py and on the one
recording for development in benchmarks/sung. The figures hardly move when any of them does."""

ONSET, FLUX, DIP, MOVED = 2.0, 1.5, 3.2, 0.4
"""What speaks for a beginning: the onset model, the spectrum's rise, a dip of the level. A dip
counts in full where the rise is :data:`MOVED` or more."""

START, ANEW, STOP = 3.9, 4.5, 1.25
"""What it costs to begin after a rest, to begin after a note, and to end."""

ORNAMENT_S = 0.07
"""What is shorter is on the way to a note and none itself."""

SCOOP_S, SCOOP, SYLLABLE = 0.15, 4, 1.5
"""A voice may come from up to so many semitones away, for so long, into the first note of a phrase,
where nothing speaks for a new syllable."""

_Past = tuple[tuple[int, int, int], "_Past"] | None
"""The notes that are over, the last first: each (first tick, tick after the last, level)."""


def spans(sight: Sight, profile: Profile, tuning: float) -> list[Span]:
    """The most likely notes. ``tuning`` is the take's shift from A = 440 Hz in semitones."""
    levels = (np.arange(profile.low * FINE, profile.high * FINE + 1) / FINE).astype(np.float32)
    here = levels + np.float32(tuning)
    syllable = _syllable(sight)
    found = _path(_sounding(sight, here), _beginning(sight, here, syllable))
    whole = _joined([Span(a, b, round(float(levels[k]))) for a, b, k in found], syllable)
    return [s for s in whole if _length_s(s) >= ORNAMENT_S]


def _sounding(sight: Sight, levels: Floats) -> Floats:
    """Score of each level against rest: (ticks, levels)."""
    from scipy.ndimage import maximum_filter1d

    voice = np.clip(2 * sight.voicing - 1, -1, 1)[:, None]
    off = np.clip(np.abs(sight.pitch[:, None] - levels), NEAR, FAR) - NEAR
    note = maximum_filter1d(sight.note, 3, axis=1)[:, keys_of(levels)]
    heard = NOTE * np.log((note + FLOOR) / (0.3 + FLOOR))
    return np.asarray(VOICED * voice - OFF * np.maximum(voice, 0) * off + heard, dtype=np.float32)


def _syllable(sight: Sight) -> Floats:
    """What speaks for a new syllable in each tick."""
    from scipy.ndimage import maximum_filter1d

    moved = np.minimum(maximum_filter1d(sight.flux, 7) / MOVED, 1)
    return np.asarray(peaks(FLUX * sight.flux + DIP * sight.dip * moved), dtype=np.float32)


def _beginning(sight: Sight, levels: Floats, syllable: Floats) -> Floats:
    """Score of a beginning on each level: (ticks, levels). The onset model may hear the glide, so
    its neighbours' word counts."""
    from scipy.ndimage import maximum_filter1d

    onset = maximum_filter1d(sight.onset, 5, axis=1)[:, keys_of(levels)]
    return np.asarray(ONSET * peaks(onset) + syllable[:, None], dtype=np.float32)


def _path(stay: Floats, enter: Floats) -> list[tuple[int, int, int]]:
    """The best way through rest and all levels: notes as (first tick, tick after the last, level).

    On whatever level a note begins, it comes from the same best past; so it is enough to remember
    one past for each tick, and for each level when its note began."""
    score = np.full(stay.shape[1], -1e6, dtype=np.float32)
    begun = np.zeros(stay.shape[1], dtype=int)
    rest = 0.0
    rested: _Past = None
    past: list[_Past] = []
    for tick, (holding, beginning) in enumerate(zip(stay, enter, strict=True)):
        top, over = _ended(score, begun, past, tick)
        if top - STOP > rest:
            rest, rested = top - STOP, over
        fresh = rest - START > top - ANEW
        past.append(rested if fresh else over)
        entered = np.float32(rest - START if fresh else top - ANEW) + beginning
        new = entered > score
        begun[new] = tick
        score = np.where(new, entered, score) + holding
    top, over = _ended(score, begun, past, len(stay))
    return _in_order(over if top > rest else rested)


def _ended(
    score: Floats, begun: NDArray[np.int_], past: "list[_Past]", tick: int
) -> "tuple[float, _Past]":
    """The score of the best note, and the past with that note in it."""
    top = int(score.argmax())
    first = int(begun[top])
    return float(score[top]), ((first, tick, top), past[first]) if past else None


def _in_order(last: "_Past") -> list[tuple[int, int, int]]:
    found = []
    while last is not None:
        note, last = last
        found.append(note)
    return found[::-1]


def _joined(found: list[Span], syllable: Floats) -> list[Span]:
    """What is too short for a note, and a scoop into a phrase, belong to the note they lead to."""
    kept: list[Span] = []
    for span in found:
        last = kept[-1] if kept else None
        opens = len(kept) < 2 or kept[-2].stop < kept[-1].start
        if (
            last is not None
            and last.stop == span.start
            and (_length_s(last) < ORNAMENT_S or (opens and _scoops(last, span, syllable)))
        ):
            kept[-1] = replace(span, start=last.start)
        else:
            kept.append(span)
    return kept


def _scoops(last: Span, span: Span, syllable: Floats) -> bool:
    return (
        _length_s(last) <= min(SCOOP_S, _length_s(span))
        and abs(last.midi - span.midi) <= SCOOP
        and float(syllable[max(0, span.start - 3) : span.start + 4].max()) < SYLLABLE
    )


def _length_s(span: Span) -> float:
    return (span.stop - span.start) * TICK_S
