"""What is seen of a recording before any note is decided: pitch, posteriors, flux, dips, level.

Everything lies on one grid, the *tick*: 256 samples at 22.05 kHz, 11.6 ms.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from changewright.ear._engines import ONSET_HOP, ONSET_RATE, PITCH_HOP, PITCH_RATE, Engines
from changewright.ear.audio import Audio
from changewright.ear.profile import Profile

__all__ = ["FINE", "FINE_S", "TICK_S", "Floats", "Sight", "glance", "look", "resampled"]

Floats = NDArray[np.float32]

TICK_S = ONSET_HOP / ONSET_RATE
FINE = 4
FINE_S = TICK_S / FINE  # the level is followed in steps of 2.9 ms
_FLUX_HOP, _FLUX_SIZE = 128, 1024
_FLOOR_DB = -100.0


@dataclass(frozen=True, slots=True)
class Sight:
    """The evidence, by tick: ``pitch`` (MIDI), ``voicing``, ``onset`` and ``note`` (88 keys from
    A0), ``flux`` and ``dip`` (about 0 to 1 and beyond), ``level_db``; ``fine_db`` is the level in
    quarter ticks."""

    pitch: Floats
    voicing: Floats
    onset: Floats
    note: Floats
    flux: Floats
    dip: Floats
    level_db: Floats
    fine_db: Floats

    def __len__(self) -> int:
        return len(self.pitch)


def look(audio: Audio, profile: Profile, engines: Engines, gain: float) -> Sight:
    """Collect the evidence of a stretch of sound, brought to working level by ``gain``."""
    wide = _cleaned(resampled(audio.samples, audio.rate, ONSET_RATE) * np.float32(gain))
    ticks = max(1, len(wide) // ONSET_HOP)
    pitch, voicing = _pitch_track(wide, profile, engines, ticks)
    onset, note = engines.posteriors(wide)
    fine = _level_db(wide, ticks * FINE)
    return Sight(
        pitch,
        voicing,
        onset[:ticks],
        note[:ticks],
        _flux(wide, ticks),
        _dips(fine, ticks),
        fine.reshape(ticks, FINE).max(axis=1),
        fine,
    )


def glance(
    audio: Audio, profile: Profile, engines: Engines, gain: float
) -> tuple[Floats, Floats, Floats]:
    """Only pitch, voicing and level, by tick: what the tuning is measured from."""
    wide = _cleaned(resampled(audio.samples, audio.rate, ONSET_RATE) * np.float32(gain))
    ticks = max(1, len(wide) // ONSET_HOP)
    fine = _level_db(wide, ticks * FINE)
    return *_pitch_track(wide, profile, engines, ticks), fine.reshape(ticks, FINE).max(axis=1)


def resampled(samples: Floats, rate: int, wanted: int) -> Floats:
    """The same sound at another sample rate."""
    from scipy.signal import resample_poly

    if rate == wanted or len(samples) == 0:
        return samples
    return np.asarray(resample_poly(samples, wanted, rate), dtype=np.float32)


def _cleaned(samples: Floats) -> Floats:
    """No constant offset and nothing below 35 Hz: no note lies there, rumble does."""
    from scipy.signal import butter, sosfilt

    high = butter(2, 35, "highpass", fs=ONSET_RATE, output="sos")
    return np.asarray(sosfilt(high, samples - samples.mean()), dtype=np.float32)


def _pitch_track(
    wide: Floats, profile: Profile, engines: Engines, ticks: int
) -> tuple[Floats, Floats]:
    """PITFALL: the pitch network answers digital silence at random; a little noise calms it."""
    narrow = resampled(wide, ONSET_RATE, PITCH_RATE)
    noise = np.random.default_rng(0).standard_normal(len(narrow)).astype(np.float32)
    low, high = profile.limits_hz
    hertz, voicing = engines.pitch(narrow + noise * np.float32(3e-4), low, high)
    at = np.arange(ticks) * TICK_S / (PITCH_HOP / PITCH_RATE)
    near = np.clip(np.round(at).astype(int), 0, len(hertz) - 1)
    midi = 69 + 12 * np.log2(np.maximum(hertz, 1e-3) / 440)
    return midi[near].astype(np.float32), np.interp(at, np.arange(len(voicing)), voicing).astype(
        "f4"
    )


def _level_db(wide: Floats, count: int) -> Floats:
    hop = ONSET_HOP // FINE
    squares = np.concatenate([np.zeros(1), np.cumsum(np.square(wide, dtype=np.float64))])
    centre = np.arange(count) * hop
    low = np.clip(centre - 2 * hop, 0, len(wide))
    high = np.clip(centre + 2 * hop, 0, len(wide))
    power = (squares[high] - squares[low]) / (4 * hop)
    return np.asarray(np.maximum(10 * np.log10(power + 1e-12), _FLOOR_DB), dtype=np.float32)


def _flux(wide: Floats, ticks: int) -> Floats:
    """Superflux: rise of the log spectrum over its neighbours' maximum, so that vibrato is quiet.

    Source: S. Böck, G. Widmer, "Maximum filter vibrato suppression for onset detection", 2013.
    """
    from scipy.ndimage import maximum_filter1d, percentile_filter

    bands = _bands()
    padded = np.pad(wide, (_FLUX_SIZE // 2, _FLUX_SIZE))
    frames = np.lib.stride_tricks.sliding_window_view(padded, _FLUX_SIZE)[::_FLUX_HOP][: 2 * ticks]
    window = np.hanning(_FLUX_SIZE).astype(np.float32)
    log = np.concatenate(
        [
            np.log10(1 + 10 * np.abs(np.fft.rfft(frames[k : k + 2048] * window)) @ bands)
            for k in range(0, len(frames), 2048)
        ]
    )
    before = maximum_filter1d(log, 3, axis=1)
    rise = np.zeros(len(log))
    rise[2:] = np.maximum(log[2:] - before[:-2], 0).sum(axis=1)
    rise = rise[: 2 * ticks].reshape(ticks, 2).max(axis=1)
    rise -= percentile_filter(rise, 50, size=101)
    scale = max(float(np.percentile(rise, 97)), 0.5)
    return np.asarray(np.clip(rise / scale, 0, 1.5), dtype=np.float32)


def _bands() -> Floats:
    """Triangular bands, 24 an octave where the spectrum is fine enough, 80 Hz to 9 kHz."""
    bins = _FLUX_SIZE // 2 + 1
    hertz = 80 * 2 ** (np.arange(0, 6.8 * 24) / 24)
    centres = np.unique(np.round(hertz / (ONSET_RATE / _FLUX_SIZE)).astype(int))
    centres = centres[centres < bins]
    bank = np.zeros((bins, len(centres) - 2), dtype=np.float32)
    for k, (low, mid, high) in enumerate(zip(centres, centres[1:], centres[2:], strict=False)):
        bank[low : mid + 1, k] = np.linspace(0, 1, mid - low + 1)
        bank[mid : high + 1, k] = np.linspace(1, 0, high - mid + 1)
    return bank


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
