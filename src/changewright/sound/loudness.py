"""Loudness and true peak of finished sound, block by block.

Source: ITU-R BS.1770-4: K-weighting, mean square over 400 ms with 75 % overlap, gates at -70 LUFS
and 10 LU under the ungated level (annex 1); true peak by fourfold oversampling (annex 2).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["SILENT_LUFS", "Loudness", "Meter"]

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
_OVERSAMPLED = 4
_CLOSE = 0.7  # a true peak lies at most about 3 dB above the samples around it
_STRETCH, _EDGE = 512, 32


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
        self._hop = rate // 10
        self._filters = np.array([_SHELF, _HIGH_PASS])
        self._state = np.zeros((2, channels, 2))
        self._rest = np.zeros((channels, 0))
        self._energies: list[NDArray[np.float64]] = []
        self._edge = np.zeros((channels, 0), dtype=np.float32)
        self._peak = 0.0

    def add(self, audio: NDArray[np.float32]) -> None:
        """Pass on the next frames, shape (channels, frames)."""
        from scipy.signal import sosfilt

        weighted, self._state = sosfilt(self._filters, audio, axis=1, zi=self._state)
        joined = np.concatenate([self._rest, weighted], axis=1)
        whole = joined.shape[1] // self._hop * self._hop
        steps = joined[:, :whole].reshape(joined.shape[0], -1, self._hop)
        self._energies.append(np.square(steps).sum(axis=(0, 2)))
        self._rest = joined[:, whole:]
        self._note_peak(audio)

    def result(self) -> Loudness:
        """Loudness and true peak of all that passed."""
        steps = np.concatenate(self._energies) if self._energies else np.zeros(0)
        peak = 20 * np.log10(self._peak) if self._peak > 0 else SILENT_LUFS
        return Loudness(_gated(steps, self._hop), float(peak))

    def _note_peak(self, audio: NDArray[np.float32]) -> None:
        joined = np.concatenate([self._edge, audio], axis=1)
        self._edge = joined[:, -2 * _EDGE :]
        for channel in joined:
            self._peak = max(self._peak, _true_peak(channel, self._peak))


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


def _true_peak(channel: NDArray[np.float32], known: float) -> float:
    """Oversample only the stretches that could hold the peak, each with a little on either side."""
    from scipy.signal import resample_poly

    top = max(float(np.abs(channel).max(initial=0.0)), known)
    if top == 0:
        return 0.0
    padded = np.pad(channel, (_EDGE, _EDGE + -len(channel) % _STRETCH))
    windows = np.lib.stride_tricks.sliding_window_view(padded, _STRETCH + 2 * _EDGE)[::_STRETCH]
    close = windows[np.abs(windows).max(axis=1) > _CLOSE * top]
    if not len(close):
        return top
    dense = np.abs(resample_poly(close, _OVERSAMPLED, 1, axis=1))
    inner = dense[:, _OVERSAMPLED * _EDGE // 2 : -_OVERSAMPLED * _EDGE // 2]
    return max(top, float(inner.max()))
