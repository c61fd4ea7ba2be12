"""A take cut into short pieces, a bar each, to be listened to beside what is said of it."""

import io
import wave
from collections.abc import Iterable

import numpy as np

from changewright.ear.audio import Audio, Samples

__all__ = ["clips"]

_FADE_S = 0.006  # no click where a note is cut
_PEAK = 0.7
_LONGEST_S = 60.0


def clips(audio: Audio, spans: Iterable[tuple[float, float]]) -> tuple[bytes, ...]:
    """Each stretch [start, end) in seconds as a WAV file of 16 bits, all at one level.

    A stretch outside the recording gives ``b""``; none is longer than a minute.
    """
    peak = audio.peak
    gain = _PEAK / peak if peak else 0.0
    return tuple(_clip(audio, start, end, gain) for start, end in spans)


def _clip(audio: Audio, start_s: float, end_s: float, gain: float) -> bytes:
    first = max(0, round(start_s * audio.rate))
    last = max(0, round(min(end_s, start_s + _LONGEST_S) * audio.rate))
    piece = audio.between(first, last)
    fade = round(_FADE_S * audio.rate)
    if len(piece) < 2 * fade:
        return b""
    return _wav(_faded(piece, fade) * np.float32(gain), audio.rate)


def _faded(piece: Samples, count: int) -> Samples:
    slope = np.linspace(0, 1, count, dtype=np.float32)
    faded = piece.copy()
    faded[:count] *= slope
    faded[-count:] *= slope[::-1]
    return faded


def _wav(samples: Samples, rate: int) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((samples * 32767).astype("<i2").tobytes())
    return out.getvalue()
