"""Use what we know of the band: find the recording's lag from the count-in, take the band out.

We rendered the play-along ourselves, so its every sample is known. In the count-in only the band
sounds, and the microphone's copy of it, however faint, gives the lag of the whole chain.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from changewright.ear._sight import resampled
from changewright.ear.audio import Audio, Samples
from changewright.ear.take import HeardNote, Take

__all__ = ["doubted", "lag_of", "without_backing"]

_RATE = 22_050
EARLIEST_S, LATEST_S = -0.1, 0.75
CLEAR_PEAK = 25.0
"""How far the correlation's peak stands above its spread before it is believed; with bleed it
reaches 57 to 82, with headphones 4 to 5. Source: measured, prototype of the same method."""

_SIZE, _HOP = 2048, 512
_CHUNK_S, _MARGIN_S = 60.0, 0.25
_QUANTILE = 0.35
_OVER = 1.3
_FLOOR = 0.02
_MOSTLY_BAND_DB, _DOUBT = 8.0, 0.45


def lag_of(audio: Audio, backing: Audio, count_in_s: float) -> float | None:
    """Seconds by which the recording lags the play-along, from the count-in; None if unheard.

    ``count_in_s`` is where the first bar begins in the backing; only what lies strictly before
    it is used. None means headphones (or no bleed): then use the player's stored calibration or
    what the notes themselves say. Method: generalised cross-correlation with phase transform.
    Source: C. H. Knapp, G. C. Carter, 1976.
    """
    count = int(0.98 * count_in_s * _RATE)
    band = _at_rate(backing)[:count]
    heard = _at_rate(audio)[: count + int(LATEST_S * _RATE)]
    if min(len(band), len(heard)) < _RATE // 4 or not band.any() or not heard.any():
        return None
    lags, strength = _phat(heard, band)
    near = (lags >= EARLIEST_S) & (lags <= LATEST_S)
    peak = int(np.argmax(np.where(near, strength, -np.inf)))
    spread = float(strength[near].std())
    if spread == 0 or float(strength[peak]) / spread < CLEAR_PEAK:
        return None
    return float(lags[peak])


def _phat(heard: Samples, band: Samples) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    size = 1 << (len(heard) + len(band)).bit_length()
    cross = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(band, size))
    shape = np.fft.irfft(cross / np.maximum(np.abs(cross), 1e-9), size)
    lags = np.arange(size, dtype=np.float64)
    lags[size // 2 :] -= size
    return lags / _RATE, shape


def without_backing(audio: Audio, backing: Audio, lag_s: float) -> Audio:
    """The take with the band's own sound taken out, at 22.05 kHz.

    Magnitudes are subtracted, not waves: room and loudspeaker bend the phases. How loud the band
    arrives is estimated for each frequency from the take itself.
    """
    heard, band = _at_rate(audio), _shifted(_at_rate(backing), round(lag_s * _RATE))
    band = np.pad(band, (0, max(0, len(heard) - len(band))))[: len(heard)]
    pieces = [_subtracted(heard[a:b], band[a:b])[keep] for a, b, keep in _pieces(len(heard))]
    return Audio(np.concatenate(pieces) if pieces else heard, _RATE)


def doubted(take: Take, heard: Audio, cleaned: Audio) -> Take:
    """Doubt the notes of which most was taken out with the band: what is left is a trace of the
    band, and must not be called another note of the player's."""
    before, after = _at_rate(heard), _at_rate(cleaned)
    notes = tuple(
        replace(n, confidence=min(n.confidence, _DOUBT))
        if _lost_db(n, before, after) > _MOSTLY_BAND_DB
        else n
        for n in take.notes
    )
    return replace(take, notes=notes)


def _lost_db(note: HeardNote, before: Samples, after: Samples) -> float:
    """How much of a note's first two partials went with the band."""
    first, last = round(note.onset_s * _RATE), round(min(note.end_s, note.onset_s + 1) * _RATE)
    powers = [
        _partials(x[first:last], 440 * 2 ** ((note.pitch - 69) / 12)) for x in (before, after)
    ]
    return float(10 * np.log10((powers[0] + 1e-12) / (powers[1] + 1e-12)))


def _partials(piece: Samples, hertz: float) -> float:
    if len(piece) < 256:
        return 0.0
    size = 1 << len(piece).bit_length()
    power = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), size)) ** 2
    at = [round(k * hertz * size / _RATE) for k in (1, 2)]
    reach = max(2, 2 * size // len(piece))
    return float(sum(power[max(0, k - reach) : k + reach + 1].sum() for k in at)) / len(piece)


def _pieces(count: int) -> Iterator[tuple[int, int, slice]]:
    step, margin = int(_CHUNK_S * _RATE), int(_MARGIN_S * _RATE)
    for start in range(0, count, step):
        stop = min(count, start + step)
        begin = max(0, start - margin)
        yield begin, min(count, stop + margin), slice(start - begin, stop - begin)


def _at_rate(audio: Audio) -> Samples:
    return resampled(audio.samples, audio.rate, _RATE)


def _shifted(samples: Samples, by: int) -> Samples:
    if by >= 0:
        return np.concatenate([np.zeros(by, dtype=np.float32), samples])
    return samples[-by:]


def _subtracted(heard: Samples, band: Samples) -> Samples:
    from scipy.signal import istft, stft

    if len(heard) < _SIZE:
        return heard
    _, _, mixed = stft(heard, nperseg=_SIZE, noverlap=_SIZE - _HOP)
    _, _, known = stft(band, nperseg=_SIZE, noverlap=_SIZE - _HOP)
    mixed_size, known_size = np.abs(mixed), np.abs(known)
    expected = _gains(mixed_size, known_size)[:, None] * known_size
    left = np.maximum(mixed_size - _OVER * expected, _FLOOR * mixed_size)
    _, back = istft(
        mixed * (left / np.maximum(mixed_size, 1e-12)), nperseg=_SIZE, noverlap=_SIZE - _HOP
    )
    return np.asarray(np.pad(back, (0, len(heard)))[: len(heard)], dtype=np.float32)


def _gains(mixed: NDArray[np.float64], known: NDArray[np.float64]) -> NDArray[np.float64]:
    """How loud the band arrives, by frequency: a low quantile of the ratio where the band is
    strong, smoothed over neighbours; the player's own sound can only raise the ratio."""
    from scipy.ndimage import median_filter

    strong = known >= np.maximum(np.quantile(known, 0.7, axis=1, keepdims=True), 1e-7)
    ratio = np.where(strong, mixed / np.maximum(known, 1e-9), np.nan)
    gains = np.zeros(len(known))
    for row, values in enumerate(ratio):
        here = values[~np.isnan(values)]
        gains[row] = np.quantile(here, _QUANTILE) if len(here) >= 8 else 0.0
    return np.asarray(median_filter(gains, 15), dtype=np.float64)
