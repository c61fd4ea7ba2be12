"""The line of a take's pitch over time, for a picture: where it is sure, and nowhere else."""

from collections.abc import Iterable

import numpy as np

from changewright.ear.take import HeardNote, Take

__all__ = ["Stroke", "trace"]

Stroke = tuple[tuple[float, float], ...]
"""One unbroken line: (seconds, MIDI number with its fraction in the take's own tuning)."""

_VOICED = 0.5
_STEP = 2  # every second tick, 23 ms: finer than print shows
_FAR = 1.5  # semitones from the note that was heard: a harmonic, or the band


def trace(take: Take, notes: Iterable[HeardNote] | None = None) -> tuple[Stroke, ...]:
    """One stroke for each note that was heard (or of those given): the pitch within it, frame by
    frame; a level line where no frames are known (a MIDI recording)."""
    chosen = take.notes if notes is None else notes
    strokes = (_stroke(take, note) for note in chosen)
    return tuple(s for s in strokes if len(s) > 1)


def _stroke(take: Take, note: HeardNote) -> Stroke:
    contour = take.contour
    if not len(contour):
        return ((note.onset_s, float(note.midi)), (note.end_s, float(note.midi)))
    first, last = round(note.onset_s / contour.hop_s), round(note.end_s / contour.hop_s)
    at = np.arange(first, min(last + 1, len(contour)), _STEP)
    pitch = contour.pitch[at] - take.tuning
    sure = (contour.voicing[at] > _VOICED) & (np.abs(pitch - note.midi) < _FAR)
    return tuple(
        (round(float(t * contour.hop_s), 3), round(float(p), 2))
        for t, p in zip(at[sure], pitch[sure], strict=True)
    )
