"""Turn a recording of one melodic instrument into notes."""

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

import numpy as np

from changewright.ear import _refine
from changewright.ear._company import company
from changewright.ear._engines import Engines, real_engines
from changewright.ear._sight import TICK_S, Floats
from changewright.ear._trellis import spans
from changewright.ear._watch import Watch
from changewright.ear.audio import Audio, Samples
from changewright.ear.profile import Profile, profile_of
from changewright.ear.take import Contour, HeardNote, Take
from changewright.theory.instrument import Instrument

__all__ = ["FAINT_DB", "WORKING_PEAK", "decided", "transcribe", "tuning_of", "working_gain"]

CHUNK, OVERLAP = round(60 / TICK_S), round(4 / TICK_S)
"""Ticks that are decided on at a time, and how many of them two chunks share."""

WORKING_PEAK = 0.5
FAINT_DB = 26.0
_ENOUGH = 2_000_000  # samples: a minute and a half


def transcribe(
    audio: Audio, *, instrument: Instrument | None = None, engines: Engines | None = None
) -> Take:
    """Hear the notes of a take, with onset, end, pitch, loudness and confidence.

    The instrument, where known, limits the range and tells how its notes end. What is no pitched
    note (noise, breath, silence) gives no note.
    """
    profile = profile_of(instrument)
    watch = Watch(audio.rate, profile, engines or real_engines())
    gain = working_gain(audio.blocks(), len(audio))
    for block in audio.blocks():
        watch.push(block, gain)
    watch.finish(gain)
    return decided(watch, profile, gain, audio.length_s)


def decided(watch: Watch, profile: Profile, gain: float, length_s: float) -> Take:
    """The take of what was watched, a minute at a time, each forgotten when it is decided;
    ``gain`` is what it was watched with and ``length_s`` how long it is."""
    ticks = watch.ticks
    contour = Contour(TICK_S, *watch.contour())
    quieter = float(20 * np.log10(gain))
    tuning = tuning_of(contour.pitch, contour.voicing, contour.level_db + quieter)
    notes: list[HeardNote] = []
    beside: list[tuple[int, int]] = []
    for start in range(0, max(1, ticks - OVERLAP), CHUNK):
        watch.forget(start)
        sight = watch.sight(start, min(ticks, start + CHUNK + OVERLAP), gain)
        found = _refine.notes(spans(sight, profile, tuning), sight, profile, tuning)
        beside.append(company(sight, found))
        later = [_later(n, start * TICK_S) for n in found]
        notes = _stitched(notes, later, start * TICK_S)
    heard = tuple(
        replace(n, loudness_db=n.loudness_db - quieter)
        for n in _audible(notes)
        if n.onset_s < length_s
    )
    return Take(
        notes=heard,
        length_s=length_s,
        tuning_hz=440 * 2 ** (tuning / 12),
        background_db=_background(contour),
        company=sum(a for a, _ in beside) / max(1, sum(b for _, b in beside)),
        contour=contour,
    )


def _audible(notes: list[HeardNote]) -> list[HeardNote]:
    """Leave out what lies far below the player's own level: it is the room, or what is left of
    the band."""
    if not notes:
        return []
    body = float(np.percentile([n.loudness_db for n in notes], 75))
    return [n for n in notes if n.loudness_db > body - FAINT_DB]


def working_gain(blocks: Iterable[Samples], count: int) -> float:
    """What brings a recording to working level, told from its blocks, ``count`` samples in all; of
    a long one every so-manieth sample tells."""
    step = max(1, count // _ENOUGH)
    some, at = [np.zeros(0, dtype=np.float32)], 0
    for block in blocks:
        some.append(np.abs(block[-at % step :: step]))
        at += len(block)
    told = np.concatenate(some) if at else np.zeros(1, dtype=np.float32)
    return WORKING_PEAK / max(1e-4, float(np.percentile(told, 99.9)))


def tuning_of(pitch: Floats, voicing: Floats, level_db: Floats) -> float:
    """Where the player's semitones lie, from all clearly voiced frames: the circular mean of
    their distance from the nearest semitone of A = 440 Hz."""
    clear = pitch[(voicing > 0.8) & (level_db > -45)]
    if len(clear) < 40:
        return 0.0
    mean = np.exp(2j * np.pi * clear).mean()
    return float(np.angle(mean) / (2 * np.pi)) if abs(mean) > 0.25 else 0.0


def _later(note: HeardNote, by_s: float) -> HeardNote:
    return replace(note, onset_s=note.onset_s + by_s, end_s=note.end_s + by_s)


def _stitched(before: list[HeardNote], after: list[HeardNote], start_s: float) -> list[HeardNote]:
    """Join two chunks in the middle of what both heard; a note across the joint is one note."""
    if not before:
        return after
    joint = start_s + OVERLAP * TICK_S / 2
    kept = [n for n in before if n.onset_s < joint]
    new = [n for n in after if n.onset_s >= joint]
    across = next((n for n in after if n.onset_s < joint < n.end_s), None)
    if kept and across and kept[-1].end_s > joint and kept[-1].midi == across.midi:
        kept[-1] = replace(kept[-1], end_s=max(kept[-1].end_s, across.end_s))
    joined = [*kept, *new]
    return [replace(a, end_s=min(a.end_s, b.onset_s)) for a, b in pairwise(joined)] + joined[-1:]


def _background(contour: Contour) -> float:
    """The level of the room: the quietest tenth of the recording."""
    return float(np.percentile(contour.level_db, 10)) if len(contour) else -120.0
