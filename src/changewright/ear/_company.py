"""Is the player alone? Notes of somebody else that are clearly heard beside the player's own."""

from collections.abc import Sequence

import numpy as np

from changewright.ear._sight import TICK_S, Sight
from changewright.ear.take import HeardNote

__all__ = ["company"]

_CLEAR = 0.5
_KIN = (-24, -19, -12, 0, 12, 19, 24, 28, 31, 34, 36)
"""Semitones from a note at which its own harmonics, and octaves below it, are heard."""

_RINGS = round(1.0 / TICK_S)  # a note that has ended may go on in the room
_EARLY = 4  # ticks


def company(sight: Sight, notes: Sequence[HeardNote]) -> tuple[int, int]:
    """Of how many ticks in which one of ``notes`` sounds another note is clearly heard that no
    harmonic of theirs explains: (such ticks, ticks in all). Times are from the sight's start."""
    own = np.zeros((len(sight), 88), dtype=np.bool_)
    plays = np.zeros(len(sight), dtype=np.bool_)
    for note in notes:
        first, last = round(note.onset_s / TICK_S) - _EARLY, round(note.end_s / TICK_S) + 1
        plays[max(0, first) : last] = True
        keys = np.add.outer(note.midi - 21 + np.array(_KIN), (-1, 0, 1)).ravel()
        own[max(0, first) : last + _RINGS, keys[(keys >= 0) & (keys < 88)]] = True
    other = (np.where(own, 0, sight.note) > _CLEAR).any(axis=1)
    return int((other & plays).sum()), int(plays.sum())
