"""Sound that comes in blocks: another sample rate and a high-pass, without edges between blocks."""

from dataclasses import dataclass
from functools import cache
from math import gcd

import numpy as np
from numpy.typing import NDArray

__all__ = ["CHANGES", "THINS", "HighPass", "LowPass", "Resampler"]

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class LowPass:
    """A windowed sinc: half its length in samples of the slower rate, where it ends as a share of
    what the slower rate can carry, and its window as the signal library names it."""

    half: int
    ends: float
    window: str | tuple[str, float]


CHANGES = LowPass(10, 1.0, ("kaiser", 5.0))
"""For a rate near the old one."""

THINS = LowPass(16, 0.9, "hamming")
"""For every second or fourth sample: lets nothing fold down."""


@cache
def _taps(low_pass: LowPass, most: int) -> Floats:
    """At ``most`` times the slower rate."""
    from scipy.signal import firwin

    taps = firwin(2 * low_pass.half * most + 1, low_pass.ends / most, window=low_pass.window)
    return np.asarray(taps, dtype=np.float32)


class Resampler:
    """The same sound at another rate, block by block; the whole comes out as if done at once."""

    def __init__(self, rate: int, wanted: int, low_pass: LowPass = CHANGES) -> None:
        common = gcd(rate, wanted)
        self._up, self._down = wanted // common, rate // common
        self._low_pass = low_pass
        self._reach = low_pass.half * max(self._up, self._down) // self._up + 1
        self._held = np.zeros(0, dtype=np.float32)
        self._start = 0  # the sample at which what is held begins: whole steps of `down`
        self._given = 0

    def push(self, block: Floats) -> Floats:
        """The samples that are complete once ``block`` is known."""
        if self._up == self._down:
            return block
        self._held = np.concatenate([self._held, block])
        last = self._start + len(self._held) - self._reach
        return self._until(max(self._given, last * self._up // self._down))

    def flush(self) -> Floats:
        """What is left when the stream ends."""
        if self._up == self._down:
            return np.zeros(0, dtype=np.float32)
        return self._until(-(-(self._start + len(self._held)) * self._up // self._down))

    def _until(self, stop: int) -> Floats:
        from scipy.signal import resample_poly

        if stop <= self._given or not len(self._held):
            return np.zeros(0, dtype=np.float32)
        first = self._start * self._up // self._down
        taps = _taps(self._low_pass, max(self._up, self._down))
        whole = resample_poly(self._held, self._up, self._down, window=taps)
        out = np.asarray(whole[self._given - first : stop - first], dtype=np.float32)
        self._given = stop
        spare = stop * self._down // self._up - self._reach - self._start
        spare = max(0, spare) // self._down * self._down
        self._held, self._start = self._held[spare:], self._start + spare
        return out


class HighPass:
    """Nothing below ``hertz``, and no constant offset from the first sample on."""

    def __init__(self, rate: int, hertz: float) -> None:
        from scipy.signal import butter, sosfilt_zi

        self._sections = butter(2, hertz, "highpass", fs=rate, output="sos")
        self._rest = sosfilt_zi(self._sections)
        self._state: NDArray[np.float64] | None = None

    def push(self, block: Floats) -> Floats:
        """The filtered block."""
        from scipy.signal import sosfilt

        if not len(block):
            return block
        if self._state is None:
            self._state = self._rest * float(block[0])
        out, self._state = sosfilt(self._sections, block, zi=self._state)
        return np.asarray(out, dtype=np.float32)
