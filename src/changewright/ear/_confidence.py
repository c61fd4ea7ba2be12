"""How sure the listener is of a note: a small logistic model over what was seen of it."""

from dataclasses import replace

import numpy as np

from changewright.ear._sight import TICK_S, Sight, keys_of
from changewright.ear.take import HeardNote

__all__ = ["weighed"]

_BIAS = -7.21
_WEIGHTS = np.array([0.5, 1.0, 0.5, 9.13, 0.57, -0.84, 0.53, 1.03])
"""For: pitch fit, fit of its pitch class, note posterior, onset posterior, length, loudness against
the take's median, flux, dip. Source: measured, fitted on the development seeds of
benchmarks/bench_ear.py; what is said with .9 is right in 98 of 100."""

_SUNG_BIAS = -3.81
_SUNG_WEIGHTS = np.array([0.74, 0.74, -0.35, 4.72, 1.57, 0.38, 0.92, 0.16])
"""The same for a voice, whose pitch wavers and whose notes begin softly. Source: measured, fitted
on sung development lines and on the recording for development in benchmarks/sung; of what is said
with .9 and more 96 in 100 are right."""


def weighed(notes: list[HeardNote], sight: Sight, tuning: float, *, sung: bool) -> list[HeardNote]:
    """The same notes with their confidence."""
    if not notes:
        return []
    body = float(np.median([n.loudness_db for n in notes]))
    bias, weights = (_SUNG_BIAS, _SUNG_WEIGHTS) if sung else (_BIAS, _WEIGHTS)
    seen = np.array([_seen(n, sight, tuning, body) for n in notes])
    chances = 1 / (1 + np.exp(-(bias + seen @ weights)))
    return [replace(n, confidence=float(c)) for n, c in zip(notes, chances, strict=True)]


def _seen(note: HeardNote, sight: Sight, tuning: float, body_db: float) -> list[float]:
    start = int(note.onset_s / TICK_S)
    stop = max(start + 1, int(note.end_s / TICK_S))
    here, attack = slice(start, stop), slice(max(0, start - 3), start + 4)
    distance = sight.pitch[here] - tuning - note.midi
    voicing = sight.voicing[here]
    key = int(keys_of(note.midi))
    folded = np.abs((distance + 6) % 12 - 6) < 0.5
    return [
        float(np.mean((np.abs(distance) < 0.5) * voicing)),
        float(np.mean(folded * voicing)),
        min(1.0, float(sight.note[here, key].mean()) / 0.5),
        float(sight.onset[attack, key].max()),
        min(1.0, note.length_s / 0.3),
        float(np.clip((note.loudness_db - body_db) / 10, -2, 1)),
        float(sight.flux[attack].max()),
        float(sight.dip[attack].max()),
    ]
