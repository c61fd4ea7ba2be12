"""Bring a mix to its loudness under a ceiling, by one gain for all stems.

Where peaks stand in the way, the gain dips around them. All stems dip together, so their sum is
still the mix.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from changewright.sound.loudness import HOP, SILENT_LUFS, Loudness, Meter

__all__ = [
    "DEEPEST_DB",
    "LOUDNESS_LUFS",
    "TRUE_PEAK_DBTP",
    "Levelling",
    "is_mono",
    "levelling",
    "scaled",
]

LOUDNESS_LUFS = -18.0
"""How loud a mix is made. Source: measured: a mix at -18 LUFS peaks under full scale with little
or no limiting, and a student can turn it up; nobody can turn down a stem that hurts."""

TRUE_PEAK_DBTP = -1.0
"""No mix peaks above this. Source: EBU R 128, maximum permitted true peak of -1 dBTP."""

DEEPEST_DB = 3.0
"""How far the gain dips at most. Source: measured: slow feels need up to 2.4 dB at single strokes;
what needs more is left softer."""

_MARGIN_DB = 0.1  # fourfold oversampling may miss that much of a peak
_REACH = 8  # a dip takes 80 ms down and 80 ms up: slower than any tone, too short to be a fade
_ROUNDS = 4


@dataclass(frozen=True)
class Levelling:
    """What every stem of a mix is multiplied by. ``dips`` are gains at the middle of each hop, at
    most 1, or None where the mix needs none. ``loudness`` is what the mix then measures."""

    gain: float
    dips: NDArray[np.float64] | None
    loudness: Loudness

    @property
    def gain_db(self) -> float:
        """The gain between the dips in dB."""
        return float(20 * np.log10(self.gain))

    def applied(self, stem: NDArray[np.float32], start: int = 0) -> NDArray[np.float32]:
        """A stretch of a stem, shape (frames, 2), that begins at a frame of the whole."""
        if self.dips is None:
            return scaled(stem, self.gain)
        one = stem[:, :1] if is_mono(stem) else stem
        gains = _gains(self.dips * self.gain, start, start + len(stem)).astype(np.float32)
        return np.broadcast_to(one * gains[:, None], stem.shape)


def _gains(hops: NDArray[np.float64], start: int, stop: int) -> NDArray[np.float64]:
    """Frame by frame, straight from hop to hop; a frame's gain depends on its place alone."""
    padded = np.concatenate([hops[:1], hops, hops[-1:]])
    place = np.arange(start, stop) + HOP // 2
    hop = np.minimum(place // HOP, len(padded) - 2)
    part = (place - hop * HOP) / HOP
    return np.asarray(padded[hop] * (1 - part) + padded[hop + 1] * part)


def levelling(meter: Meter) -> Levelling:
    """How to bring what a meter heard to :data:`LOUDNESS_LUFS`, or as near as peaks allow."""
    heard = meter.result()
    if heard.lufs <= SILENT_LUFS:
        return Levelling(1.0, None, heard)
    wanted_db = LOUDNESS_LUFS - heard.lufs
    allowed_db = TRUE_PEAK_DBTP - _MARGIN_DB - heard.true_peak_dbtp
    if wanted_db <= allowed_db:
        after = Loudness(heard.lufs + wanted_db, heard.true_peak_dbtp + wanted_db)
        return Levelling(10 ** (wanted_db / 20), None, after)
    return _dipped(meter, wanted_db, allowed_db)


def _dipped(meter: Meter, wanted_db: float, allowed_db: float) -> Levelling:
    """A little more gain makes up for what the dips take away."""
    peaks, most_db = meter.peaks(), allowed_db + DEEPEST_DB
    gain_db = min(wanted_db, most_db)
    for _ in range(_ROUNDS):
        short_db = LOUDNESS_LUFS - gain_db - meter.lufs(_dips(peaks, _under(gain_db)))
        gain_db = min(gain_db + short_db, most_db)
    dips = _dips(peaks, _under(gain_db))
    top_db = 20 * float(np.log10((peaks * dips).max()))
    return Levelling(
        10 ** (gain_db / 20), dips, Loudness(meter.lufs(dips) + gain_db, top_db + gain_db)
    )


def _under(gain_db: float) -> float:
    """The ceiling, seen from before the gain."""
    return float(10 ** ((TRUE_PEAK_DBTP - _MARGIN_DB - gain_db) / 20))


def _dips(peaks: NDArray[np.float64], ceiling: float) -> NDArray[np.float64]:
    """Gains a hop that keep every peak under a ceiling, without a corner.

    The mean of minima over the same reach is never above the gain that a hop needs; one hop more
    on either side covers the straight way to its neighbours.
    """
    needed = np.minimum(1.0, ceiling / np.maximum(peaks, 1e-9))
    reach = _REACH + 1
    padded = np.pad(needed, reach, constant_values=1.0)
    lowest = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).min(axis=1)
    bell = np.hanning(2 * _REACH + 3)[1:-1]
    smooth = np.convolve(np.pad(lowest, _REACH, mode="edge"), bell / bell.sum(), "valid")
    return np.asarray(np.minimum(smooth, 1.0), dtype=np.float64)


def scaled(stem: NDArray[np.float32], gain: float) -> NDArray[np.float32]:
    """A stem made louder or softer; one that is the same on both sides stays one in memory."""
    one = stem[:, :1] if is_mono(stem) else stem
    return np.broadcast_to(one * np.float32(gain), stem.shape)


def is_mono(stem: NDArray[np.float32]) -> bool:
    """Tell whether both sides of a stem are the same memory."""
    return stem.strides[1] == 0
