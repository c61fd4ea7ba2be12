"""A listener without networks, for tests and for machines that can't run them: pitch by
autocorrelation, no posteriors."""

import numpy as np

from changewright.ear._engines import ONSET_HOP, PITCH_HOP, PITCH_RATE, Floats

__all__ = ["PlainListener"]

_WINDOW = 1024


class PlainListener:
    """Answers as :class:`changewright.ear._engines.Engines` does, well enough for clean tones."""

    def pitch(self, samples: Floats, low_hz: float, high_hz: float) -> tuple[Floats, Floats]:
        """Fundamental by the first strong peak of the autocorrelation, voicing by its height."""
        frames = max(1, len(samples) // PITCH_HOP)
        padded = np.pad(samples, (_WINDOW // 2, _WINDOW + PITCH_HOP))
        first = int(PITCH_RATE / high_hz)
        last = min(_WINDOW - 2, int(PITCH_RATE / low_hz) + 1)
        hertz = np.zeros(frames, dtype=np.float32)
        voicing = np.zeros(frames, dtype=np.float32)
        for k in range(frames):
            window = padded[k * PITCH_HOP : k * PITCH_HOP + _WINDOW]
            hertz[k], voicing[k] = _fundamental(window, first, last)
        return hertz, voicing

    def posteriors(self, window: Floats) -> tuple[Floats, Floats]:
        """It has no opinion: a middling chance everywhere."""
        shape = (-(-len(window) // ONSET_HOP), 88)
        return np.zeros(shape, dtype=np.float32), np.full(shape, 0.3, dtype=np.float32)


def _fundamental(window: Floats, first: int, last: int) -> tuple[float, float]:
    centred = window - window.mean()
    energy = float(np.dot(centred, centred))
    if energy < 1e-3:
        return 100.0, 0.0
    size = 2 * _WINDOW
    same = np.fft.irfft(np.abs(np.fft.rfft(centred, size)) ** 2)[: last + 2]
    fair = same[first : last + 1] / (energy * (1 - np.arange(first, last + 1) / _WINDOW))
    best = float(fair.max())
    peaks = np.flatnonzero(fair > 0.9 * best)
    lag = int(peaks[0])
    while lag + 1 < len(fair) and fair[lag + 1] > fair[lag]:
        lag += 1
    return PITCH_RATE / (first + lag + _bend(fair, lag)), min(1.0, max(0.0, best))


def _bend(curve: np.ndarray, at: int) -> float:
    """Where between the samples a parabola through three of them is highest."""
    if not 0 < at < len(curve) - 1:
        return 0.0
    left, here, right = (float(curve[k]) for k in (at - 1, at, at + 1))
    bow = left - 2 * here + right
    return 0.5 * (left - right) / bow if bow else 0.0
