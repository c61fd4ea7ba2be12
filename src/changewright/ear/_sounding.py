"""What sounds between two instants, by pitch class: the safest evidence there is.

Single onsets are missed and invented; which pitch class fills a stretch of time is wrong less than
one per cent of the time (measured: benchmarks/bench_ear.py).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from changewright.ear.take import LOWEST_KEY, Take

__all__ = ["Shares", "Sounding"]

STEP_S = 0.01
VOICED = 0.5
TAIL_DB = 9.0
WHISPER_DB = 34.0
OVER_ROOM_DB, ROOM_LIMIT_DB = 8.0, 12.0  # a loud room (or band) lifts that, up to a limit
CROWDED = 0.02
"""The share of company from which on there is a band in the room. Source: measured on development
seeds: without a band at most .01, on a telephone and in reverberation too; with one from .03."""

UNDER_BODY_DB = 24.0  # below the player's own level by this much is not the player


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of a stretch of time: each pitch class, and silence; what is left is unclear."""

    pcs: tuple[float, ...]
    silent: float

    def of(self, pcs: frozenset[int]) -> float:
        """The share in which one of these pitch classes sounds."""
        return sum(self.pcs[pc] for pc in pcs)

    def other(self, pcs: frozenset[int]) -> float:
        """The share of the strongest pitch class that is none of these."""
        return max((s for pc, s in enumerate(self.pcs) if pc not in pcs), default=0.0)


class Sounding:
    """A take's pitch classes over time, from its contour, or from its notes where it has none."""

    def __init__(self, take: Take) -> None:
        self.is_crowded = take.company > CROWDED
        """A band in the room could not be taken out: what is heard may be theirs."""
        self.loud_db = _loud_db(take)
        self._step_s = take.contour.hop_s if len(take.contour) else STEP_S
        self._keys, self._level_db = take.contour.keys, take.contour.level_db
        if len(take.contour):
            self._pc, self._quiet = _from_contour(take)
            self._tail = _tails(take)
            self._faint = _faint(take)
        else:
            self._pc, self._quiet = _from_notes(take)
            self._tail, self._faint = self._quiet, self._pc

    def shares(self, start_s: float, end_s: float, *, without_tails: bool = False) -> Shares:
        """What sounds in [start, end); outside the recording it is silent. ``without_tails``
        counts what only rings on after a note, in the room or on the string, as silence."""
        first, last = round(start_s / self._step_s), round(end_s / self._step_s)
        count = max(1, last - first)
        low, high = max(0, first), max(0, min(len(self._pc), last))
        here, quiet = self._pc[low:high], self._quiet[low:high]
        if without_tails:
            tail = self._tail[low:high]
            here, quiet = np.where(tail, -1, here), quiet | tail
        pcs = tuple(float((here == pc).sum()) / count for pc in range(12))
        outside = count - len(here)
        return Shares(pcs, (float(quiet.sum()) + outside) / count)

    def key(self, midi: int, start_s: float, end_s: float) -> float:
        """The best chance, within [start, end), that this very note sounds, whoever plays it; 0
        where notes were not listened for one by one."""
        here = self._keys[self._span(start_s, end_s), midi - LOWEST_KEY : midi - LOWEST_KEY + 1]
        return float(here.max()) / 100 if here.size else 0.0

    def hush_db(self, start_s: float, end_s: float) -> float:
        """How far [start, end) lies under the player's louder notes, in its middle; 0 where levels
        are not known."""
        here = self._level_db[self._span(start_s, end_s)]
        return self.loud_db - float(np.median(here)) if here.size else 0.0

    def _span(self, start_s: float, end_s: float) -> slice:
        """The frames of [start, end), at least one."""
        first, last = (max(0, round(t / self._step_s)) for t in (start_s, end_s))
        return slice(first, max(first + 1, last))

    def whispers(self, pcs: frozenset[int], start_s: float, end_s: float) -> float:
        """The share of [start, end) in which one of these sounds however softly."""
        first, last = round(start_s / self._step_s), round(end_s / self._step_s)
        here = self._faint[max(0, first) : max(0, last)]
        return float(np.isin(here, list(pcs)).sum()) / max(1, last - first)


def _faint(take: Take) -> NDArray[np.int64]:
    contour = take.contour
    pc = np.round(contour.pitch - take.tuning).astype(np.int64) % 12
    there = (contour.voicing > VOICED) & (contour.level_db > _body_db(take) - WHISPER_DB)
    return np.where(there, pc, -1)


def _from_contour(take: Take) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    contour = take.contour
    body = _body_db(take)
    loud = max(body - UNDER_BODY_DB, min(take.background_db + OVER_ROOM_DB, body - ROOM_LIMIT_DB))
    voiced = (contour.voicing > VOICED) & (contour.level_db > loud)
    pc = np.round(contour.pitch - take.tuning).astype(np.int64) % 12
    quiet = (contour.level_db <= loud) | (contour.voicing < 0.2)
    return np.where(voiced, pc, -1), quiet


def _tails(take: Take) -> NDArray[np.bool_]:
    """Frames that belong to no heard note and lie well below the player's level."""
    contour = take.contour
    covered = np.zeros(len(contour), dtype=np.bool_)
    for note in take.notes:
        covered[int(note.onset_s / contour.hop_s) : int(note.end_s / contour.hop_s) + 1] = True
    return ~covered & (contour.level_db < _body_db(take) - TAIL_DB)


def _body_db(take: Take) -> float:
    """The player's own level: the median loudness of the notes the listener is sure of, or the
    loudest moment where it is sure of none."""
    levels = [n.loudness_db for n in take.notes if n.confidence > 0.7]
    if levels:
        return float(np.median(levels))
    loudest = [n.loudness_db for n in take.notes] + [
        float(level) for level in take.contour.level_db
    ]
    return max(loudest, default=0.0)


def _loud_db(take: Take) -> float:
    """The level of the player's louder notes."""
    levels = [n.loudness_db for n in take.notes if n.confidence > 0.7]
    return float(np.percentile(levels, 75)) if levels else _body_db(take)


def _from_notes(take: Take) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    count = int(take.length_s / STEP_S) + 1
    pc = np.full(count, -1, dtype=np.int64)
    for note in take.notes:
        pc[round(note.onset_s / STEP_S) : max(round(note.end_s / STEP_S), 1)] = note.pc
    return pc, pc < 0
