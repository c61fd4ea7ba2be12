"""Decide which note sounds when: the best path through {rest, every pitch} over time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from changewright.ear import _sung
from changewright.ear._sight import Sight, keys_of
from changewright.ear._spans import APART, Span, peaks
from changewright.ear.profile import Profile

__all__ = ["DEFAULT", "Weights", "spans"]

Floats = NDArray[np.float32]

_ANEW_BIAS = -8.4
_ANEW = np.array([3.8, 2.25, -1.39], dtype=np.float32)
_ANEW_OF_KEY = (6.74, 1.79, 1.5)
"""Log odds that a pitch that sounds is struck anew, for: flux, dip, lost voicing; onset posterior
of its key, how its note posterior sinks and comes back, how far it comes back. Source: logistic
regression on development seeds of benchmarks/bench_ear.py, notes tongued against held ones."""

_ANEW_MOST = 0.5  # else a breath would be entered early for the sake of striking it anew
_NEVER = 50.0


@dataclass(frozen=True, slots=True)
class Weights:
    """What evidence is worth, in units of log likelihood. Source: measured, fitted on the
    development seeds of benchmarks/bench_ear.py."""

    voiced: float = 0.681
    off_pitch: float = 0.33
    note: float = 0.864
    onset: float = 3.1
    flux: float = 1.0
    dip: float = 2.85
    start: float = 3.86
    slur: float = 4.96
    stop: float = 1.25
    floor: float = 0.0129


DEFAULT = Weights()


def spans(sight: Sight, profile: Profile, tuning: float, weights: Weights = DEFAULT) -> list[Span]:
    """The most likely notes. ``tuning`` is the take's shift from A = 440 Hz in semitones."""
    if profile.sings:
        return _sung.spans(sight, profile, tuning)
    stay, enter = _scores(sight, profile, tuning, weights)
    states, attacks = _best_path(stay, enter, _anew(sight, profile), weights)
    return _cut(states, attacks, profile.low)


def _scores(
    sight: Sight, profile: Profile, tuning: float, weights: Weights
) -> tuple[Floats, Floats]:
    """Score of each pitch against rest, and of an attack on it: arrays (ticks, pitches)."""
    pitches = np.arange(profile.low, profile.high + 1)
    distance = np.abs(sight.pitch[:, None] - tuning - pitches)
    fit = np.maximum(1 - (distance / 0.7) ** 2, -1.0)
    strength = np.clip(2 * sight.voicing - 1, -1, 1)[:, None]
    on = np.where(fit > 0, weights.voiced * fit, weights.off_pitch * fit)
    stay = np.where(strength > 0, strength * on, weights.voiced * strength)
    keys = keys_of(pitches)
    note = sight.note[:, keys]
    stay = stay + weights.note * np.log((note + weights.floor) / (0.3 + weights.floor))
    evidence = peaks((weights.flux * sight.flux + weights.dip * sight.dip)[:, None])
    enter = weights.onset * peaks(sight.onset[:, keys]) + evidence
    return stay.astype(np.float32), enter.astype(np.float32)


def _anew(sight: Sight, profile: Profile) -> Floats:
    """Score of striking a pitch anew that sounds already, (ticks, pitches); only where it peaks."""
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    def most(x: Floats, ticks: int, shift: int = 0) -> Floats:
        return np.asarray(maximum_filter1d(x, ticks, axis=0, origin=shift), dtype=np.float32)

    keys = keys_of(np.arange(profile.low, profile.high + 1))
    note, voicing = sight.note[:, keys], sight.voicing
    low = minimum_filter1d(note, 8, axis=0, origin=3)
    rise = most(note, 12, -6) - low
    sunk = np.minimum(rise, most(note, 12, 5) - low)
    lost = most(voicing, 20, 9) - minimum_filter1d(voicing, 8)
    odds = (most(np.stack([sight.flux, sight.dip, lost], axis=1), 5) @ _ANEW)[:, None]
    for weight, seen in zip(_ANEW_OF_KEY, (sight.onset[:, keys], sunk, rise), strict=True):
        odds = odds + weight * most(seen, 5)
    struck = np.minimum(odds + _ANEW_BIAS, _ANEW_MOST)
    return np.where(odds >= most(odds, 2 * APART + 1), struck, -_NEVER).astype(np.float32)


def _best_path(
    stay: Floats, enter: Floats, anew: Floats, weights: Weights
) -> tuple[NDArray[np.int16], NDArray[np.bool_]]:
    """Viterbi. State 0 is rest, state k is pitch k - 1; entering a pitch, or striking it anew, is
    an attack."""
    ticks, count = stay.shape
    origin = np.zeros((ticks, count + 1), dtype=np.int16)
    struck = np.zeros((ticks, count + 1), dtype=np.bool_)
    score = np.full(count + 1, -1e6, dtype=np.float32)
    score[0] = 0.0
    own = np.arange(1, count + 1, dtype=np.int16)
    for t in range(ticks):
        sung = score[1:]
        top = int(sung.argmax())
        from_rest, from_other = score[0] - weights.start, sung[top] - weights.slur
        entered = max(from_rest, from_other)
        again, entered = sung + anew[t], entered + enter[t]
        source = np.where(again > entered, own, 0 if from_rest >= from_other else top + 1)
        attacked = np.maximum(again, entered)
        hit = attacked > sung
        origin[t, 1:] = np.where(hit, source, own)
        struck[t, 1:] = hit
        rest = sung[top] - weights.stop
        origin[t, 0] = top + 1 if rest > score[0] else 0
        score[0] = max(rest, score[0])
        score[1:] = np.where(hit, attacked, sung) + stay[t]
    return _walk_back(origin, struck, int(score.argmax()))


def _walk_back(
    origin: NDArray[np.int16], struck: NDArray[np.bool_], last: int
) -> tuple[NDArray[np.int16], NDArray[np.bool_]]:
    ticks = len(origin)
    states = np.zeros(ticks, dtype=np.int16)
    attacks = np.zeros(ticks, dtype=np.bool_)
    for t in range(ticks - 1, -1, -1):
        states[t], attacks[t] = last, struck[t, last]
        last = int(origin[t, last])
    return states, attacks


def _cut(states: NDArray[np.int16], attacks: NDArray[np.bool_], low: int) -> list[Span]:
    edges = np.flatnonzero(np.concatenate([[True], (np.diff(states) != 0) | attacks[1:]]))
    stops = np.append(edges[1:], len(states))
    return [
        Span(int(a), int(b), int(states[a]) - 1 + low)
        for a, b in zip(edges, stops, strict=True)
        if states[a] > 0
    ]
