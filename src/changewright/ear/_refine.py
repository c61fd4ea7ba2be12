"""From rough notes to fair ones: where each really starts and ends, its pitch, how sure we are."""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from changewright.ear._confidence import weighed
from changewright.ear._sight import FINE, FINE_S, TICK_S, Sight, keys_of
from changewright.ear._spans import Span
from changewright.ear.profile import Profile
from changewright.ear.take import HeardNote

__all__ = ["notes"]

SHORTEST_S = 0.045
LOOK_BACK_S = 0.077
SCRAP = 4  # ticks
EVEN_DB, DIPPED = 18.0, 0.5
SPEAKING = (0, 1, 12)  # semitones that a note may be off while it begins to speak
GROWS_S, SPEAKS_DB, SLUR_DB, RISE_DB = 0.15, 16.0, 4.0, 1.6
SWELL_S, SWELL_DB = 0.13, 8.0
SETTLING_S = 0.18  # longer than that, an octave below is a note of its own
JOINED_S = 0.02
TAIL, LEAST, FURTHER, OF_FLUX = 14, 0.4, 0.15, 0.35
"""For how many ticks a room's tail may hide the next note; how much of an attack must be seen
there, and how much more than where the note was found; what flux counts for beside the onset
posterior. Source: measured on development seeds of benchmarks/bench_ear.py."""


def notes(found: list[Span], sight: Sight, profile: Profile, tuning: float) -> list[HeardNote]:
    """The notes of a stretch of sound, seconds from its start."""
    if not profile.sings:  # a voice's notes are whole: see _sung
        found = _attacked(_spoken(_lifted(found, sight, profile, tuning)), sight)
    starts = [_onset(span, found[k - 1] if k else None, sight) for k, span in enumerate(found)]
    result: list[HeardNote] = []
    for k, span in enumerate(found):
        limit = starts[k + 1] if k + 1 < len(found) else len(sight) * TICK_S
        end = min(limit, _end(span, sight, profile))
        if end - starts[k] >= SHORTEST_S:
            result.append(_note(span, starts[k], end, sight, tuning))
    return weighed(_in_order(_merged(result)), sight, tuning, sung=profile.sings)


def _lifted(found: list[Span], sight: Sight, profile: Profile, tuning: float) -> list[Span]:
    """Mend notes heard an octave low: of the pitch that was heard no odd partial sounds."""
    kept: list[Span] = []
    for span in found:
        low = np.abs(sight.pitch[span.start : span.stop] - tuning - span.midi) < 1.0
        even = np.where(low, sight.even_db[span.start : span.stop], 0.0)
        raised = span.midi + 12 <= profile.high and float(np.percentile(even, 75)) > EVEN_DB
        span = replace(span, midi=span.midi + 12) if raised else span
        last = kept[-1] if kept else None
        if last is not None and _is_one(last, span, found, sight):
            kept[-1] = replace(last, stop=span.stop)
        else:
            kept.append(span)
    return kept


def _is_one(last: Span, span: Span, found: list[Span], sight: Sight) -> bool:
    """Two that were cut apart only because one of them was heard an octave low."""
    joins = last.stop == span.start and last.midi == span.midi
    mended = last not in found or span not in found
    return joins and mended and float(sight.dip[span.start - 2 : span.start + 3].max()) < DIPPED


def _spoken(found: list[Span]) -> list[Span]:
    """A scrap too short to be a note, right before a note, is how that note begins to speak."""
    kept: list[Span] = []
    for span in found:
        last = kept[-1] if kept else None
        if last is not None and last.stop == span.start and _is_scrap(last, span):
            kept[-1] = replace(span, start=last.start)
        else:
            kept.append(span)
    return kept


def _is_scrap(last: Span, span: Span) -> bool:
    speaks = abs(last.midi - span.midi) in SPEAKING
    return last.stop - last.start < (SCRAP if speaks else 2)


def _attacked(found: list[Span], sight: Sight) -> list[Span]:
    """PITFALL: while the tail of the note before rings in the room, the pitch network still hears
    that one; the attack tells where the new note begins."""
    kept: list[Span] = []
    for span in found:
        first = max(0, span.start - TAIL, kept[-1].start + SCRAP if kept else 0)
        key = int(keys_of(span.midi))
        here = slice(first, span.start + 4)
        seen = sight.onset[here, key] + OF_FLUX * sight.flux[here]
        earlier = seen[: max(0, span.start - 1 - first)]
        most = float(earlier.max(initial=0))
        other = not kept or kept[-1].midi != span.midi
        if other and most > max(LEAST, float(seen[len(earlier) :].max(initial=0)) + FURTHER):
            span = replace(span, start=first + int(earlier.argmax()))
            if kept and kept[-1].stop > span.start:
                kept[-1] = replace(kept[-1], stop=span.start)
        kept.append(span)
    return kept


def _onset(span: Span, before: Span | None, sight: Sight) -> float:
    """Where the note is there: within :data:`SPEAKS_DB` of what it grows to, and for good; a slow
    reed's first breath is not yet the note. In the tail of another note, or in noise, where the
    level rises from the foot before the attack."""
    fine = sight.fine_db
    start = span.start * FINE
    first = max(0, start - round(LOOK_BACK_S / FINE_S))
    if before is not None:
        first = max(first, before.start * FINE + 8)
    last = min(len(fine), start + 16)
    if first >= last:
        return span.start * TICK_S
    foot = first + int(fine[first:last].argmin())
    grown = fine[foot : max(last, min(span.stop * FINE, start + round(GROWS_S / FINE_S)))]
    rise = float(grown.max() - grown[0])
    if rise < SLUR_DB:  # no dip: a slur; the pitch tells
        return span.start * TICK_S
    if rise > SPEAKS_DB:
        below = np.flatnonzero(grown[: int(grown.argmax())] < grown.max() - SPEAKS_DB)
        return (foot + int(below[-1]) + 1) * FINE_S
    return (foot + int(np.flatnonzero(grown >= grown[0] + RISE_DB)[0])) * FINE_S


def _end(span: Span, sight: Sight, profile: Profile) -> float:
    """A held note ends where it has fallen 8 dB below its own plateau; a ringing one later."""
    level = sight.level_db[span.start : span.stop]
    plateau = float(np.percentile(level, 70))
    fall = 24.0 if profile.rings else 8.0
    loud = np.flatnonzero(level >= plateau - fall)
    return (span.start + (int(loud[-1]) + 1 if len(loud) else len(level))) * TICK_S


def _note(span: Span, start: float, end: float, sight: Sight, tuning: float) -> HeardNote:
    frames = slice(span.start, span.stop)
    pitch, voicing = sight.pitch[frames], sight.voicing[frames]
    pitch = pitch + 12 * (np.abs(pitch + 12 - tuning - span.midi) < 1.0)  # if it was mended
    near = np.abs(pitch - tuning - span.midi) < 1.0
    steady = pitch[near & (voicing > 0.5)]
    skip = len(steady) // 4
    value = float(np.median(steady[skip:])) if len(steady) else span.midi + tuning
    return HeardNote(
        onset_s=start,
        end_s=end,
        pitch=value,
        cents=100 * (value - tuning - span.midi),
        loudness_db=float(np.percentile(sight.level_db[frames], 70)),
        confidence=0.0,
    )


def _merged(found: list[HeardNote]) -> list[HeardNote]:
    """A soft start and the swell that follows it are one note, not two of the same pitch; so are a
    start heard an octave off and the note that it settles into."""
    kept: list[HeardNote] = []
    for note in found:
        last = kept[-1] if kept else None
        if last is not None and (_swells(last, note) or _settles(last, note)):
            kept[-1] = replace(note, onset_s=last.onset_s)
        else:
            kept.append(note)
    return kept


def _swells(last: HeardNote, note: HeardNote) -> bool:
    return (
        last.midi == note.midi
        and note.onset_s - last.end_s < JOINED_S
        and last.length_s < SWELL_S
        and note.loudness_db - last.loudness_db > SWELL_DB
    )


def _settles(last: HeardNote, note: HeardNote) -> bool:
    """PITFALL: while a tube fills, the pitch network may hear the octave below."""
    return (
        abs(last.midi - note.midi) == 12
        and note.onset_s - last.end_s < JOINED_S
        and last.length_s < SETTLING_S
        and last.length_s < note.length_s / 3
    )


def _in_order(found: list[HeardNote]) -> list[HeardNote]:
    cut = [
        replace(a, end_s=max(a.onset_s + 0.01, min(a.end_s, b.onset_s)))
        for a, b in pairwise(found)
        if b.onset_s > a.onset_s
    ]
    return cut + found[-1:]
