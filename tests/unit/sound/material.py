"""Small performances, and rulers for what is heard."""

import numpy as np
from numpy.typing import NDArray

from changewright.music.performance import Event, Part, Performance

__all__ = ["clicks", "first_heard", "pitch_hz", "quartet"]


def clicks(onsets_s: list[float], midi: int = 37) -> Performance:
    events = tuple(Event(at, 0.1, midi, 90) for at in onsets_s)
    return Performance((Part("drums", 32, events, is_drums=True),), max(onsets_s) + 0.5)


def quartet(length_s: float = 4.0) -> Performance:
    """A little of everything: bass, chords, time and a line."""
    beats = int(length_s * 2)
    bass = tuple(Event(k * 0.5, 0.45, 36 + k * 2 % 9, 75 + k % 7) for k in range(beats))
    chords = tuple(
        Event(k * 1.0 + 0.33, 0.7, midi, 62) for k in range(beats // 2) for midi in (53, 57, 60, 64)
    )
    ride = tuple(Event(k * 0.25 + 0.001, 0.1, 51 if k % 4 else 44, 70) for k in range(beats * 2))
    line = tuple(Event(k * 0.25 + 0.1, 0.24, 60 + k * 5 % 12, 80) for k in range(beats * 2 - 2))
    return Performance(
        (
            Part("bass", 32, bass),
            Part("comping", 0, chords),
            Part("drums", 32, ride, is_drums=True),
            Part("line", 66, line),
        ),
        length_s,
    )


def first_heard(audio: NDArray[np.float32], start: int, stop: int) -> int:
    """The first frame of [start, stop) that reaches a tenth of the peak there."""
    size = np.abs(audio[start:stop])
    return start + int(np.argmax(size >= 0.1 * size.max()))


def pitch_hz(audio: NDArray[np.float32], near: float) -> float:
    """The fundamental near a frequency, from the strongest of its first three partials."""
    size = 2**19
    power = np.abs(np.fft.rfft(audio * np.hanning(len(audio)), size))
    hz = np.fft.rfftfreq(size, 1 / 48_000)
    found = []
    for partial in (1, 2, 3):
        window = (hz > near * partial * 0.95) & (hz < near * partial * 1.05)
        at = int(np.argmax(np.where(window, power, 0)))
        found.append((power[at], hz[at] / partial))
    return float(max(found)[1])
