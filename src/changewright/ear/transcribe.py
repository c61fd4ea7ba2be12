"""Turn a recording of one melodic instrument into notes."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from changewright.ear import _refine
from changewright.ear._engines import Engines, real_engines
from changewright.ear._sight import TICK_S, Floats, glance, look
from changewright.ear._trellis import spans
from changewright.ear.audio import Audio, Samples
from changewright.ear.profile import Profile, profile_of
from changewright.ear.take import Contour, HeardNote, Take
from changewright.theory.instrument import Instrument

__all__ = ["transcribe", "tuning_of", "working_gain"]

Seen = tuple[Floats, Floats, Floats]
"""Pitch, voicing and level by tick."""

CHUNK_S, OVERLAP_S = 60.0, 4.0
WORKING_PEAK = 0.5
FAINT_DB = 26.0
_ENOUGH = 2_000_000  # samples: a minute and a half


def transcribe(
    audio: Audio, *, instrument: Instrument | None = None, engines: Engines | None = None
) -> Take:
    """Hear the notes of a take, with onset, end, pitch, loudness and confidence.

    The instrument, where known, limits the range and tells how its notes end. Long recordings are
    heard a minute at a time, so memory stays bounded. What is no pitched note (noise, breath,
    silence) gives no note.
    """
    listeners = engines or real_engines()
    profile = profile_of(instrument)
    gain = working_gain(audio.samples)
    tuning = _tuning(audio, profile, listeners, gain)
    notes: list[HeardNote] = []
    seen: list[Seen] = []
    for start, piece in _chunks(audio):
        sight = look(piece, profile, listeners, gain)
        if tuning is None:
            tuning = tuning_of([(sight.pitch, sight.voicing, sight.level_db)])
        found = _refine.notes(spans(sight, profile, tuning), sight, profile, tuning)
        notes = _stitched(notes, [_later(n, start) for n in found], start)
        seen.append((sight.pitch, sight.voicing, sight.level_db))
    contour = _contour(seen, gain)
    heard = tuple(_loudness(n, gain) for n in _audible(notes) if n.onset_s < audio.length_s)
    return Take(
        notes=heard,
        length_s=audio.length_s,
        tuning_hz=440 * 2 ** ((tuning or 0.0) / 12),
        background_db=_background(contour),
        contour=contour,
    )


def _audible(notes: list[HeardNote]) -> list[HeardNote]:
    """Leave out what lies far below the player's own level: it is the room, or what is left of
    the band."""
    if not notes:
        return []
    body = float(np.percentile([n.loudness_db for n in notes], 75))
    return [n for n in notes if n.loudness_db > body - FAINT_DB]


def _chunks(audio: Audio) -> Iterator[tuple[float, Audio]]:
    """A minute at a time on the tick grid, each with a few seconds of the one before."""
    step = round(CHUNK_S / TICK_S) * TICK_S
    start = 0.0
    while True:
        first = round(start * audio.rate)
        last = round((start + step + OVERLAP_S) * audio.rate)
        yield start, Audio(audio.samples[first:last], audio.rate)
        if last >= len(audio.samples):
            return
        start += step


def working_gain(samples: Samples) -> float:
    """What brings a recording to working level; of a long one every so-manieth sample tells."""
    step = max(1, len(samples) // _ENOUGH)
    return WORKING_PEAK / max(1e-4, float(np.percentile(np.abs(samples[::step]), 99.9)))


def _tuning(audio: Audio, profile: Profile, engines: Engines, gain: float) -> float | None:
    """The tuning of a long take, from a first pass for pitch alone, so that what is seen of it need
    not be kept whole. None for a take of one chunk, which is looked at once."""
    if audio.length_s <= CHUNK_S + OVERLAP_S:
        return None
    return tuning_of([glance(piece, profile, engines, gain) for _, piece in _chunks(audio)])


def tuning_of(seen: Sequence[Seen]) -> float:
    """Where the player's semitones lie, from all clearly voiced frames: the circular mean of
    their distance from the nearest semitone of A = 440 Hz."""
    pitch = np.concatenate([p[(v > 0.8) & (level > -45)] for p, v, level in seen])
    if len(pitch) < 40:
        return 0.0
    mean = np.exp(2j * np.pi * pitch).mean()
    return float(np.angle(mean) / (2 * np.pi)) if abs(mean) > 0.25 else 0.0


def _later(note: HeardNote, by_s: float) -> HeardNote:
    return replace(note, onset_s=note.onset_s + by_s, end_s=note.end_s + by_s)


def _stitched(before: list[HeardNote], after: list[HeardNote], start_s: float) -> list[HeardNote]:
    """Join two chunks in the middle of what both heard; a note across the joint is one note."""
    if not before:
        return after
    joint = start_s + OVERLAP_S / 2
    kept = [n for n in before if n.onset_s < joint]
    new = [n for n in after if n.onset_s >= joint]
    across = next((n for n in after if n.onset_s < joint < n.end_s), None)
    if kept and across and kept[-1].end_s > joint and kept[-1].midi == across.midi:
        kept[-1] = replace(kept[-1], end_s=max(kept[-1].end_s, across.end_s))
    joined = [*kept, *new]
    return [replace(a, end_s=min(a.end_s, b.onset_s)) for a, b in pairwise(joined)] + joined[-1:]


def _contour(seen: list[Seen], gain: float) -> Contour:
    step = round(CHUNK_S / TICK_S)
    last = len(seen) - 1
    pitch, voicing, level = (
        np.concatenate([s[part][: None if k == last else step] for k, s in enumerate(seen)])
        for part in range(3)
    )
    quieter = np.float32(20 * np.log10(gain))
    return Contour(TICK_S, pitch, voicing, (level - quieter).astype(np.float32))


def _loudness(note: HeardNote, gain: float) -> HeardNote:
    return replace(note, loudness_db=note.loudness_db - float(20 * np.log10(gain)))


def _background(contour: Contour) -> float:
    """The level of the room: the quietest tenth of the recording."""
    return float(np.percentile(contour.level_db, 10)) if len(contour) else -120.0
