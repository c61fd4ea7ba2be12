"""What is seen of a recording before any note is decided: pitch, posteriors, flux, dips, level.

Everything lies on one grid, the *tick*: 256 samples at 22.05 kHz, 11.6 ms.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from changewright.ear._engines import ONSET_HOP, ONSET_RATE
from changewright.ear._products import product
from changewright.ear._streams import Resampler
from changewright.ear.take import KEYS, LOWEST_KEY

__all__ = [
    "FINE",
    "FINE_S",
    "FLOOR_DB",
    "TICK_S",
    "Floats",
    "Flux",
    "Sight",
    "even_db",
    "keys_of",
    "level_db",
    "resampled",
]

Floats = NDArray[np.float32]

TICK_S = ONSET_HOP / ONSET_RATE
FINE = 4
FINE_S = TICK_S / FINE  # the level is followed in steps of 2.9 ms
_FLUX_HOP, _FLUX_SIZE = 128, 1024
_BANDS = 24
_PARTIALS = 8
FLOOR_DB = -100.0


@dataclass(frozen=True, slots=True)
class Sight:
    """The evidence, by tick: ``pitch`` (MIDI), ``voicing``, ``onset`` and ``note`` (88 keys from
    A0), ``flux`` and ``dip`` (about 0 to 1 and beyond), ``level_db``; ``fine_db`` is the level in
    quarter ticks; ``even_db`` is how far the even partials of ``pitch`` stand above the odd ones,
    0 where nothing speaks for the octave above."""

    pitch: Floats
    voicing: Floats
    onset: Floats
    note: Floats
    flux: Floats
    dip: Floats
    level_db: Floats
    fine_db: Floats
    even_db: Floats

    @classmethod
    def of(
        cls,
        pitch: Floats,
        voicing: Floats,
        onset: Floats,
        note: Floats,
        rise: Floats,
        fine_db: Floats,
        even_db: Floats,
    ) -> "Sight":
        """From what was measured: the rise of the spectrum beside its own surroundings, and how
        the level dips."""
        ticks = len(pitch)
        level = fine_db.reshape(ticks, FINE).max(axis=1)
        flux, dip = _flux(rise), _dips(fine_db, ticks)
        return cls(pitch, voicing, onset, note, flux, dip, level, fine_db, even_db)

    def __len__(self) -> int:
        return len(self.pitch)


def keys_of(pitch: NDArray[np.number] | float) -> NDArray[np.int_]:
    """Of the 88 keys that the onset model listens for, the nearest to each MIDI number."""
    return np.clip(np.asarray(np.round(pitch)).astype(np.int_) - LOWEST_KEY, 0, KEYS - 1)


def resampled(samples: Floats, rate: int, wanted: int) -> Floats:
    """The same sound at another sample rate."""
    if rate == wanted:
        return samples
    stream = Resampler(rate, wanted)
    return np.concatenate([stream.push(samples), stream.flush()])


def level_db(samples: Floats, count: int) -> Floats:
    """The level of ``count`` quarter ticks; the samples reach two quarter ticks beyond, either
    way."""
    hop = ONSET_HOP // FINE
    power = np.square(samples, dtype=np.float64).reshape(-1, hop).sum(axis=1)
    summed = (power[:-3] + power[1:-2] + power[2:-1] + power[3:])[:count] / (4 * hop)
    return np.asarray(10 * np.log10(summed + 1e-14), dtype=np.float32)


class Flux:
    """Superflux: rise of the log spectrum over its neighbours' maximum, so that vibrato is quiet.

    Source: S. Böck, G. Widmer, "Maximum filter vibrato suppression for onset detection", 2013.
    """

    def __init__(self) -> None:
        self._bands = _bands()
        self._window = np.hanning(_FLUX_SIZE).astype(np.float32)
        self._before: Floats | None = None

    @staticmethod
    def span(tick: int, count: int) -> tuple[int, int]:
        """The samples from which ``count`` ticks are measured."""
        first = tick * ONSET_HOP - _FLUX_SIZE // 2
        return first, first + (2 * count - 1) * _FLUX_HOP + _FLUX_SIZE

    def push(self, samples: Floats, count: int) -> Floats:
        """The rise in each of the next ``count`` ticks, of the samples of their span."""
        from scipy.fft import rfft
        from scipy.ndimage import maximum_filter1d

        frames = np.lib.stride_tricks.sliding_window_view(samples, _FLUX_SIZE)[::_FLUX_HOP]
        log = np.concatenate(
            [
                np.log10(1 + 10 * self._banded(np.abs(rfft(frames[k : k + 512] * self._window))))
                for k in range(0, 2 * count, 512)
            ]
        )
        with_before = np.concatenate([log[:2] if self._before is None else self._before, log])
        self._before = log[-2:]
        before = maximum_filter1d(with_before[:-2], 3, axis=1)
        rise = np.maximum(log - before, 0).sum(axis=1)
        return np.asarray(rise.reshape(count, 2).max(axis=1), dtype=np.float32)

    def _banded(self, size: Floats) -> Floats:
        """Each run of bands from the bins that it covers."""
        return np.concatenate(
            [product(size[:, first:last], table) for first, last, table in self._bands], axis=1
        )


def even_db(samples: Floats, hertz: Floats, maybe: NDArray[np.bool_]) -> Floats:
    """By how much the even partials of ``hertz`` stand above the odd ones in each tick that is
    ``maybe`` an octave too low, dB; the samples reach half a spectrum to either side of a tick. A
    note always sounds its odd partials, so if they are missing it is the octave above."""
    from scipy.fft import rfft

    told = np.zeros(len(hertz), dtype=np.float32)
    (ticks,) = np.nonzero(maybe)
    if not len(ticks):
        return told
    frames = np.lib.stride_tricks.sliding_window_view(samples, _FLUX_SIZE)[::ONSET_HOP][ticks]
    power = np.abs(rfft(frames * np.hanning(_FLUX_SIZE).astype(np.float32))) ** 2
    bins = hertz[ticks, None] * np.arange(1, _PARTIALS + 1) * (_FLUX_SIZE / ONSET_RATE)
    at = np.clip(np.round(bins).astype(int), 1, power.shape[1] - 2)
    rows = np.arange(len(ticks))[:, None]
    peaks = np.maximum.reduce([power[rows, at + k] for k in (-1, 0, 1)])
    odd, even = peaks[:, 0::2].sum(axis=1), peaks[:, 1::2].sum(axis=1)
    told[ticks] = 10 * np.log10((even + 1e-12) / (odd + 1e-12))
    return told


def _flux(rise: Floats) -> Floats:
    """The rise above its own surroundings, about 1 where a note is struck."""
    from scipy.ndimage import percentile_filter

    above = rise - percentile_filter(rise, 50, size=101)
    scale = max(float(np.percentile(above, 97)), 0.5)
    return np.asarray(np.clip(above / scale, 0, 1.5), dtype=np.float32)


def _bands() -> list[tuple[int, int, Floats]]:
    """Triangular bands, 24 an octave where the spectrum is fine enough, 80 Hz to 9 kHz; in runs,
    each with the bins that it covers, half-open, and their weights."""
    bins = _FLUX_SIZE // 2 + 1
    hertz = 80 * 2 ** (np.arange(0, 6.8 * 24) / 24)
    centres = np.unique(np.round(hertz / (ONSET_RATE / _FLUX_SIZE)).astype(int))
    centres = centres[centres < bins]
    bank = np.zeros((bins, len(centres) - 2), dtype=np.float32)
    for k, (low, mid, high) in enumerate(zip(centres, centres[1:], centres[2:], strict=False)):
        bank[low : mid + 1, k] = np.linspace(0, 1, mid - low + 1)
        bank[mid : high + 1, k] = np.linspace(1, 0, high - mid + 1)
    runs = []
    for k in range(0, bank.shape[1], _BANDS):
        first, last = int(centres[k]), int(centres[min(k + _BANDS + 1, len(centres) - 1)]) + 1
        runs.append((first, last, bank[first:last, k : k + _BANDS]))
    return runs


def _dips(fine: Floats, ticks: int) -> Floats:
    """How deep the level fell just before a tick and rose again right after: a tongue's mark."""
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    def ahead(x: Floats, reach: int) -> Floats:
        return np.asarray(maximum_filter1d(x, reach, origin=-(reach // 2)), dtype=np.float32)

    def behind(x: Floats, reach: int) -> Floats:
        return np.asarray(maximum_filter1d(x, reach, origin=(reach - 1) // 2), dtype=np.float32)

    low = minimum_filter1d(fine, 17, origin=8)  # the last 50 ms
    rise = ahead(fine, 20) - low
    fall = behind(fine, 60) - low
    depth = np.minimum(rise, fall).reshape(ticks, FINE).max(axis=1)
    return np.asarray(np.clip(depth / 8, 0, 1.5), dtype=np.float32)
