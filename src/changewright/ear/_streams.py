"""Sound that comes in blocks: another sample rate and a high-pass, without edges between blocks.

The sums are those of a general-purpose library's polyphase and recursive filters. PITFALL: that
library takes as long to load as half a minute takes to hear.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import cos, gcd, pi, sin, sqrt
from typing import Self

import numpy as np
from numpy.typing import NDArray

from changewright.ear._products import product

__all__ = ["CHANGES", "THINS", "HighPass", "LowPass", "Resampler"]

Floats = NDArray[np.float32]

_RUN = 64  # outputs that are worked out together, by one table of taps
_TAIL = 2048  # samples after which a high-pass of some ten hertz has died away by 120 dB
_SPECTRUM = 1 << 14


@dataclass(frozen=True)
class LowPass:
    """A windowed sinc: half its length in samples of the slower rate, and where it ends as a share
    of what the slower rate can carry."""

    half: int
    ends: float
    window: Callable[[int], NDArray[np.float64]]

    def taps(self, up: int, down: int) -> NDArray[np.float64]:
        """At ``up`` times the rate that comes in; their sum is ``up``."""
        most = max(up, down)
        at = np.arange(-self.half * most, self.half * most + 1)
        shape = np.sinc(self.ends / most * at) * self.window(len(at))
        return np.asarray(up * shape / shape.sum(), dtype=np.float64)


CHANGES = LowPass(10, 1.0, lambda count: np.kaiser(count, 5.0))
"""For a rate near the old one."""

THINS = LowPass(16, 0.9, np.hamming)
"""For every second or fourth sample: lets nothing fold down."""


@dataclass(frozen=True, eq=False)
class _Tables:
    """Taps laid out so that a run of outputs is a product of matrices: ``came`` samples in give
    ``go`` samples out, in runs (first output, first sample, taps by sample and output)."""

    came: int
    go: int
    runs: tuple[tuple[int, int, Floats], ...]

    @classmethod
    @cache
    def of(cls, up: int, down: int, low_pass: LowPass) -> Self:
        """For ``up`` samples out of ``down``."""
        taps = low_pass.taps(up, down)
        half = len(taps) // 2
        times = -(-_RUN // up)
        runs = []
        for first in range(0, times * up, _RUN):
            outputs = np.arange(first, min(times * up, first + _RUN))
            low = -(-(first * down - half) // up)
            samples = np.arange(low, (int(outputs[-1]) * down + half) // up + 1)
            at = outputs * down - samples[:, None] * up + half
            inside = (at >= 0) & (at < len(taps))
            table = np.where(inside, taps[np.clip(at, 0, len(taps) - 1)], 0)
            runs.append((first, low, table.astype(np.float32)))
        return cls(times * down, times * up, tuple(runs))

    def outputs(self, held: Floats, first: int, last: int) -> Floats:
        """Outputs ``first`` to ``last``, half-open; around ``held`` is silence."""
        begin, end = first // self.go, -(-last // self.go)
        low = begin * self.came + min(start for _, start, _ in self.runs)
        high = (end - 1) * self.came + max(start + len(table) for _, start, table in self.runs)
        around = np.zeros(high - low, dtype=np.float32)
        inside = held[max(0, low) : high]
        around[max(0, -low) :][: len(inside)] = inside
        out = np.empty((end - begin, self.go), dtype=np.float32)
        for place, start, table in self.runs:
            rows = np.lib.stride_tricks.sliding_window_view(
                around[start + begin * self.came - low :], len(table)
            )[:: self.came][: len(out)]
            out[:, place : place + table.shape[1]] = product(rows, table)
        return out.reshape(-1)[first - begin * self.go : last - begin * self.go]


class Resampler:
    """The same sound at another rate, block by block; the whole comes out as if done at once."""

    def __init__(self, rate: int, wanted: int, low_pass: LowPass = CHANGES) -> None:
        common = gcd(rate, wanted)
        self._up, self._down = wanted // common, rate // common
        self._low_pass = low_pass
        self._reach = low_pass.half * max(self._up, self._down) // self._up + 1
        self._held = np.zeros(0, dtype=np.float32)
        self._start = 0  # the sample at which what is held begins: whole steps of the tables
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
        if stop <= self._given or not len(self._held):
            return np.zeros(0, dtype=np.float32)
        tables = _Tables.of(self._up, self._down, self._low_pass)
        first = self._start * self._up // self._down
        out = tables.outputs(self._held, self._given - first, stop - first)
        self._given = stop
        spare = stop * self._down // self._up - self._reach - self._start
        spare = max(0, spare) // tables.came * tables.came
        self._held, self._start = self._held[spare:], self._start + spare
        return out


class HighPass:
    """Nothing below ``hertz``, and no constant offset from the first sample on."""

    def __init__(self, rate: int, hertz: float) -> None:
        self._rate, self._hertz = rate, hertz
        self._past: Floats | None = None

    def push(self, block: Floats) -> Floats:
        """The filtered block."""
        if not len(block):
            return block
        if self._past is None:
            self._past = np.full(_TAIL - 1, block[0], dtype=np.float32)
        held = np.concatenate([self._past, block])
        self._past = held[1 - _TAIL :]
        size = min(_SPECTRUM, 1 << (len(held) - 1).bit_length())
        fresh = size - _TAIL + 1
        return np.concatenate(
            [self._filtered(held[k : k + size], size) for k in range(0, len(block), fresh)]
        )

    def _filtered(self, held: Floats, size: int) -> Floats:
        from scipy.fft import irfft, rfft

        turned = rfft(held, size) * _response(self._rate, self._hertz, size)
        return np.asarray(irfft(turned, size)[_TAIL - 1 : len(held)], dtype=np.float32)


@cache
def _response(rate: int, hertz: float, size: int) -> NDArray[np.complex64]:
    """What a Butterworth high-pass of second order makes of one impulse, as a spectrum. Source: the
    bilinear transform, as in any textbook of digital filters."""
    from scipy.fft import rfft

    turn = 2 * pi * hertz / rate
    slope = sin(turn) / sqrt(2)
    middle = (1 + cos(turn)) / (1 + slope)
    back = (-2 * cos(turn) / (1 + slope), (1 - slope) / (1 + slope))
    out = [0.0, 0.0]
    for given in (middle / 2, -middle, middle / 2, *[0.0] * (_TAIL - 3)):
        out.append(given - back[0] * out[-1] - back[1] * out[-2])
    return np.asarray(rfft(np.array(out[2:]), size), dtype=np.complex64)
