"""Loudness and true peak of finished sound, block by block.

Source: ITU-R BS.1770-4: K-weighting, mean square over 400 ms with 75 % overlap, gates at -70 LUFS
and 10 LU under the ungated level (annex 1); true peak by fourfold oversampling (annex 2).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["HOP", "SILENT_LUFS", "Loudness", "Meter"]

SILENT_LUFS = -70.0
"""What silence, or anything under the absolute gate, counts as."""

_SHELF = (
    1.53512485958697,
    -2.69169618940638,
    1.19839281085285,
    1.0,
    -1.69065929318241,
    0.73248077421585,
)
_HIGH_PASS = (1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621)
HOP = 480
"""Frames of a stretch whose true peak is kept: ten milliseconds."""

_STEP = 10 * HOP  # loudness moves on by a tenth of a second
_OVERSAMPLED = 4
_CLOSE = 0.5  # true peaks lie about 3 dB over their samples at most, and gains dip by 3 dB at most
_EDGE = 32


@dataclass(frozen=True, slots=True)
class Loudness:
    """Integrated loudness in LUFS and true peak in dBTP."""

    lufs: float
    true_peak_dbtp: float


class Meter:
    """Measure sound as it passes. At 48 kHz only, for which the filters are given."""

    def __init__(self, rate: int = 48_000, channels: int = 2) -> None:
        if rate != 48_000:
            raise ValueError(f"the meter's filters are for 48000 frames a second, not {rate}")
        self._channels = channels
        self._filters = np.array([_SHELF, _HIGH_PASS])
        self._state = np.zeros((2, channels, 2))
        self._rest = np.zeros((channels, 0))
        self._energies: list[NDArray[np.float64]] = []
        self._waiting = np.zeros((channels, _EDGE), dtype=np.float32)
        self._peaks: list[NDArray[np.float64]] = []
        self._top = 0.0

    def add(self, audio: NDArray[np.float32]) -> None:
        """Pass on the next frames, shape (channels, frames)."""
        from scipy.signal import sosfilt

        weighted, self._state = sosfilt(self._filters, audio, axis=1, zi=self._state)
        joined = np.concatenate([self._rest, weighted], axis=1)
        whole = joined.shape[1] // _STEP * _STEP
        steps = joined[:, :whole].reshape(joined.shape[0], -1, _STEP)
        self._energies.append(np.square(steps).sum(axis=(0, 2)))
        self._rest = joined[:, whole:]
        self._waiting = self._note_peaks(np.concatenate([self._waiting, audio], axis=1))

    def result(self) -> Loudness:
        """Loudness and true peak of all that passed."""
        peak = float(self.peaks().max(initial=0.0))
        return Loudness(self.lufs(), 20 * float(np.log10(peak)) if peak > 0 else SILENT_LUFS)

    def lufs(self, gains: NDArray[np.float64] | None = None) -> float:
        """The loudness of all that passed; with ``gains``, one for each hop, as if it had been
        multiplied by them (they change so slowly that the filters don't notice)."""
        steps = np.concatenate(self._energies) if self._energies else np.zeros(0)
        if gains is not None:
            whole = np.square(gains[: len(steps) * _STEP // HOP]).reshape(len(steps), -1)
            steps = steps * whole.mean(axis=1)
        return _gated(steps, _STEP)

    def peaks(self) -> NDArray[np.float64]:
        """The true peak of every hop that passed, the louder channel's."""
        kept, top = list(self._peaks), self._top
        rest = self._waiting.shape[1] - _EDGE
        if rest:
            missing = -rest % HOP + _EDGE
            self._note_peaks(np.pad(self._waiting, ((0, 0), (0, missing))))
        found = np.concatenate(self._peaks) if self._peaks else np.zeros(0)
        self._peaks, self._top = kept, top
        return found

    def _note_peaks(self, joined: NDArray[np.float32]) -> NDArray[np.float32]:
        """Note the whole hops that have their surroundings; returns what must wait.

        Only stretches that could hold a peak worth knowing are oversampled.
        """
        hops = max((joined.shape[1] - 2 * _EDGE) // HOP, 0)
        if hops:
            stretch = joined[:, : hops * HOP + 2 * _EDGE]
            windows = np.lib.stride_tricks.sliding_window_view(stretch, HOP + 2 * _EDGE, axis=1)
            windows = windows[:, ::HOP]
            peaks = np.abs(windows).max(axis=(0, 2)).astype(np.float64)
            self._top = max(self._top, float(peaks.max()))
            close = np.flatnonzero((peaks > _CLOSE * self._top) & (peaks > 0))
            peaks[close] = np.maximum(peaks[close], _true_peaks(windows[:, close]))
            self._peaks.append(peaks)
        return joined[:, hops * HOP :]


def _gated(steps: NDArray[np.float64], hop: int) -> float:
    if len(steps) < 4:
        return SILENT_LUFS
    blocks = np.convolve(steps, np.ones(4), "valid") / (4 * hop)
    loud = blocks[_lufs(blocks) > SILENT_LUFS]
    if not len(loud):
        return SILENT_LUFS
    relative = float(_lufs(loud.mean())) - 10
    kept = loud[_lufs(loud) > relative]
    return float(_lufs(kept.mean()))


def _lufs(mean_square: NDArray[np.float64] | float) -> NDArray[np.float64]:
    return -0.691 + 10 * np.log10(np.maximum(mean_square, 1e-12))


def _true_peaks(windows: NDArray[np.float32]) -> NDArray[np.float64]:
    """The true peak inside each window, without its edges; shape (channels, windows, frames)."""
    from scipy.signal import resample_poly

    if not windows.shape[1]:
        return np.zeros(0)
    dense = np.abs(resample_poly(windows, _OVERSAMPLED, 1, axis=2))
    inner = dense[:, :, _OVERSAMPLED * _EDGE // 2 : -_OVERSAMPLED * _EDGE // 2]
    return np.asarray(inner.max(axis=(0, 2)), dtype=np.float64)
