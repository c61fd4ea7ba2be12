"""Use what we know of the band: find the recording's lag from the count-in, take the band out.

We rendered the play-along ourselves, so its every sample is known. In the count-in only the band
sounds, and the microphone's copy of it, however faint, gives the lag of the whole chain.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from changewright.ear._sight import resampled
from changewright.ear._tape import Tape
from changewright.ear.audio import Audio, Samples
from changewright.ear.take import HeardNote, Take

__all__ = ["LATEST_S", "Remover", "at_rate", "doubted", "lag_of", "without_backing"]

_RATE = 22_050
EARLIEST_S, LATEST_S = -0.1, 0.75
CLEAR_PEAK = 25.0
"""How far the correlation's peak stands above its spread before it is believed; with bleed it
reaches 57 to 82, with headphones 4 to 5. Source: measured, prototype of the same method."""

_SIZE, _HOP = 2048, 512
_PIECE = 8 * _RATE // _HOP * _HOP
_MARGIN = 3 * _SIZE
_TOGETHER = 7  # pieces, not quite a minute
_EVERY = 3  # frames lie over each other by three quarters: each third tells enough
_REMEMBERED = 60 * _RATE // _HOP // _EVERY
_WINDOW = np.hanning(_SIZE + 1)[:-1].astype(np.float32)  # squares of four add up to 1.5
_QUANTILE, _FEW = 0.35, 8
_OVER = 1.3
_FLOOR = 0.02
_MOSTLY_BAND_DB, _DOUBT = 8.0, 0.45

Spectra = NDArray[np.complex64]
Magnitudes = NDArray[np.float32]


def lag_of(audio: Audio, backing: Audio, count_in_s: float) -> float | None:
    """Seconds by which the recording lags the play-along, from the count-in; None if unheard.

    ``count_in_s`` is where the first bar begins in the backing; only what lies strictly before
    it is used. None means headphones (or no bleed): then use the player's stored calibration or
    what the notes themselves say. Method: generalised cross-correlation with phase transform.
    Source: C. H. Knapp, G. C. Carter, 1976.
    """
    count = int(0.98 * count_in_s * _RATE)
    band = at_rate(_first(backing, count))[:count]
    count += int(LATEST_S * _RATE)
    heard = at_rate(_first(audio, count))[:count]
    if min(len(band), len(heard)) < _RATE // 4 or not band.any() or not heard.any():
        return None
    lags, strength = _phat(heard, band)
    near = (lags >= EARLIEST_S) & (lags <= LATEST_S)
    peak = int(np.argmax(np.where(near, strength, -np.inf)))
    spread = float(strength[near].std())
    if spread == 0 or float(strength[peak]) / spread < CLEAR_PEAK:
        return None
    return float(lags[peak])


def _first(audio: Audio, count: int) -> Audio:
    """As much of it as gives so many samples at the working rate."""
    return Audio(audio.between(0, (count + 64) * audio.rate // _RATE), audio.rate)


def _phat(heard: Samples, band: Samples) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    size = 1 << (len(heard) + len(band)).bit_length()
    cross = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(band, size))
    shape = np.fft.irfft(cross / np.maximum(np.abs(cross), 1e-9), size)
    lags = np.arange(size, dtype=np.float64)
    lags[size // 2 :] -= size
    return lags / _RATE, shape


def without_backing(audio: Audio, backing: Audio, lag_s: float) -> Audio:
    """The take with the band's own sound taken out, at 22.05 kHz."""
    remover = Remover(at_rate(backing), lag_s)
    left = [remover.push(at_rate(audio)), remover.finish()]
    return Audio(np.concatenate(left), _RATE)


class Remover:
    """Takes a known band out of a recording as it comes in, both at 22.05 kHz.

    Magnitudes are subtracted, not waves: room and loudspeaker bend the phases. How loud the band
    arrives is estimated for each frequency from the last minute of the take itself.
    """

    def __init__(self, band: Samples, lag_s: float) -> None:
        self._band = _shifted(band, round(lag_s * _RATE))
        self._held = np.zeros(_MARGIN, dtype=np.float32)
        self._start = -_MARGIN  # the sample at which what is held begins
        self._given = 0
        self._mixed: list[Magnitudes] = []
        self._known: list[Magnitudes] = []

    def push(self, heard: Samples) -> Samples:
        """What is left of all that can be told by now."""
        self._held = np.concatenate([self._held, heard])
        left = []
        while (ready := (self._start + len(self._held) - self._given - _MARGIN) // _PIECE) > 0:
            left.append(self._pieces([_PIECE] * min(ready, _TOGETHER)))
        return np.concatenate(left) if left else np.zeros(0, dtype=np.float32)

    def finish(self) -> Samples:
        """The rest."""
        rest = self._start + len(self._held) - self._given
        self._held = np.pad(self._held, (0, _MARGIN + _HOP))
        return self._pieces([-(-rest // _HOP) * _HOP])[:rest]

    def _pieces(self, counts: Sequence[int]) -> Samples:
        """So many samples, whole hops, told from all of them together; a margin on either side of
        each is looked at too."""
        seen = [self._seen(count) for count in counts]
        gains = _gains(self._mixed, self._known)
        left = []
        for count, (mixed, known) in zip(counts, seen, strict=True):
            size = np.abs(mixed)
            kept = np.maximum(size - _OVER * gains * known, _FLOOR * size)
            mixed *= kept / np.maximum(size, 1e-12)
            left.append(_sound(mixed, count + 2 * _MARGIN)[_MARGIN : _MARGIN + count])
        return np.concatenate(left)

    def _seen(self, count: int) -> tuple[Spectra, Magnitudes]:
        """The next piece: what was heard and what the band plays."""
        first = self._given - _MARGIN
        heard = self._held[first - self._start :][: count + 2 * _MARGIN]
        band = _between(self._band, first, first + len(heard))
        mixed, known = _spectra(heard), np.abs(_spectra(band))
        self._remember(np.abs(mixed), known, count)
        self._given += count
        spare = self._given - _MARGIN - self._start
        self._held, self._start = self._held[spare:], self._start + spare
        return mixed, known

    def _remember(self, mixed: Magnitudes, known: Magnitudes, count: int) -> None:
        """Some frames of every piece, of the last minute."""
        edge, frames = _MARGIN // _HOP, count // _HOP
        self._mixed.append(mixed[edge : edge + frames : _EVERY])
        self._known.append(known[edge : edge + frames : _EVERY])
        while sum(map(len, self._mixed[1:])) > _REMEMBERED:
            del self._mixed[0], self._known[0]


def doubted(take: Take, heard: Tape, cleaned: Tape) -> Take:
    """Doubt the notes of which most was taken out with the band: what is left is a trace of the
    band, and must not be called another note of the player's. Both are at 22.05 kHz."""
    notes = tuple(
        replace(n, confidence=min(n.confidence, _DOUBT))
        if _lost_db(n, heard, cleaned) > _MOSTLY_BAND_DB
        else n
        for n in take.notes
    )
    return replace(take, notes=notes)


def _lost_db(note: HeardNote, before: Tape, after: Tape) -> float:
    """How much of a note's first two partials went with the band."""
    first, last = round(note.onset_s * _RATE), round(min(note.end_s, note.onset_s + 1) * _RATE)
    powers = [
        _partials(x.between(first, last), 440 * 2 ** ((note.pitch - 69) / 12))
        for x in (before, after)
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


def at_rate(audio: Audio) -> Samples:
    """The samples at the rate at which all this is done, 22.05 kHz."""
    return resampled(audio.samples, audio.rate, _RATE)


def _shifted(samples: Samples, by: int) -> Samples:
    if by >= 0:
        return np.concatenate([np.zeros(by, dtype=np.float32), samples])
    return samples[-by:]


def _between(samples: Samples, first: int, last: int) -> Samples:
    """A stretch, silent where there is nothing."""
    inside = samples[max(0, first) : max(0, last)]
    before = min(last, 0) - min(first, 0)
    return np.pad(inside, (before, last - first - before - len(inside)))


def _spectra(samples: Samples) -> Spectra:
    """One row for each hop, from the first sample on."""
    from scipy.fft import rfft

    frames = np.lib.stride_tricks.sliding_window_view(samples, _SIZE)[::_HOP]
    return np.asarray(rfft(frames * _WINDOW, axis=1), dtype=np.complex64)


def _sound(spectra: Spectra, count: int) -> Samples:
    """Back again: windowed once more and laid over each other; the edges are not whole."""
    from scipy.fft import irfft

    frames = irfft(spectra, _SIZE, axis=1) * (_WINDOW / 1.5)
    out = np.zeros((len(frames) + _SIZE // _HOP - 1, _HOP), dtype=np.float32)
    for k in range(_SIZE // _HOP):
        out[k : k + len(frames)] += frames[:, k * _HOP : (k + 1) * _HOP]
    whole = out.reshape(-1)[:count]
    return np.pad(whole, (0, count - len(whole)))


def _gains(mixed: list[Magnitudes], known: list[Magnitudes]) -> Magnitudes:
    """How loud the band arrives, by frequency: a low quantile of the ratio where the band is
    strong, smoothed over neighbours; the player's own sound can only raise the ratio."""
    from scipy.ndimage import median_filter

    heard, band = (np.concatenate(x).T for x in (mixed, known))
    strong = band >= np.maximum(np.quantile(band, 0.7, axis=1, keepdims=True), 1e-7)
    ratio = np.sort(np.where(strong, heard / np.maximum(band, 1e-9), np.inf), axis=1)
    counts = strong.sum(axis=1)
    at = np.maximum(0, np.round(_QUANTILE * (counts - 1)).astype(int))
    gains = np.where(counts >= _FEW, ratio[np.arange(len(ratio)), at], 0.0)
    return np.asarray(median_filter(gains, 15), dtype=np.float32)
