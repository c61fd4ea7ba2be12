"""Add notes at whole frames: the mixing of one part.

Each event's frame is computed from its absolute time, never by adding durations, so that no error
grows. The note is placed so that its audible attack, not its first faint sample, falls there.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from changewright.music.performance import Event, Part
from changewright.sound.bank import BANK_RATE, WORDS, Audio, NoteBank, Sample, Voice, voice_of

__all__ = ["Strike", "fade_out", "frame_of", "mixed", "strikes_of", "tail_s"]

_SILENT_DB = 54.0
_SCRATCH = 16_384  # frames multiplied at once: they stay in the processor's cache
_CHOKE_DB_PER_S = 2000.0
_WORD_DB_PER_S = 500.0  # a word gives way to the next
_OPEN_HAT, _CLOSED_HATS = 46, (42, 44)
_FADE_S = 1.0
_LONGEST_S = 60.0  # no breath and no string lasts longer

# A jazz kit under a soloist: the drum and stick peaks of the samples stand out of the cymbals,
# which carry the time. Source: measured, the mix's peaks fell at kick and cross-stick in all feels.
_TRIM_DB = {36: -5.0, 37: -4.0, 38: -1.5, 39: -2.0, 75: -3.0}


@dataclass(frozen=True, slots=True)
class Strike:
    """One event, ready to be mixed. ``onset`` is where it becomes audible, ``start`` the frame of
    its first faint sample (which may lie before frame 0), ``held`` how many frames until it is let
    go, ``length`` how many until it can't be heard."""

    onset: int
    start: int
    held: int
    length: int
    midi: int
    gain: float
    fall_db_per_s: float
    sample: Sample


def frame_of(at_s: float) -> int:
    """The frame nearest to an instant."""
    return round(at_s * BANK_RATE)


def strikes_of(part: Part) -> tuple[Strike, ...]:
    """A part's events as strikes, in order of onset. An open hi-hat is choked by the next closed
    one; a percussion piece that the kit lacks is left out."""
    voice = voice_of(part.program, part.is_drums)
    rows = sorted(part.events)
    chokes = [e.onset_s for e in rows if part.is_drums and e.midi in _CLOSED_HATS]
    made = (_strike(voice, event, chokes) for event in rows)
    return tuple(strike for strike in made if strike is not None)


def _strike(voice: Voice, event: Event, chokes: Sequence[float]) -> Strike | None:
    sample = voice.sample_of(event.midi, event.velocity)
    if sample is None:
        return None
    onset = frame_of(event.onset_s)
    held, fall = frame_of(event.onset_s + event.duration_s) - onset, voice.release_of(event.midi)
    if voice.is_kit:
        held, fall = sample.frames, _CHOKE_DB_PER_S
        if voice.id == WORDS:
            held, fall = min(held, frame_of(event.duration_s)), _WORD_DB_PER_S
        elif event.midi == _OPEN_HAT:
            after = next((at for at in chokes if at > event.onset_s), _LONGEST_S + event.onset_s)
            held = min(held, frame_of(after) - onset)
    lead = round(sample.attack / 2 ** ((event.midi - sample.midi) / 12))
    held = min(max(held, 1), frame_of(_LONGEST_S)) + lead
    return Strike(
        onset=onset,
        start=onset - lead,
        held=held,
        length=held + int(_SILENT_DB / fall * BANK_RATE),
        midi=event.midi,
        gain=voice.gain(sample, event.velocity) * _trim(voice, event.midi),
        fall_db_per_s=fall,
        sample=sample,
    )


def _trim(voice: Voice, midi: int) -> float:
    return float(10 ** (_TRIM_DB.get(midi, 0.0) / 20)) if voice.is_kit else 1.0


def tail_s(strikes: Iterable[Strike]) -> float:
    """When the last note of a part can no longer be heard."""
    return max((s.start + min(s.length, _heard(s)) for s in strikes), default=0) / BANK_RATE


def _heard(strike: Strike) -> int:
    return strike.length if strike.sample.loop else 2 * strike.sample.frames


def mixed(
    voice: Voice,
    strikes: Sequence[Strike],
    start: int,
    stop: int,
    bank: NoteBank,
    gain: float,
    end: int,
) -> Audio:
    """The sound of a part in the frames [start, stop), shape (2, stop - start), over at ``end``.

    The sum is taken in order of onset, so that a stretch is the same bit for bit whether it is
    mixed alone or with its neighbours.
    """
    out = np.zeros((voice.channels, stop - start), dtype=np.float32)
    scratch = np.empty((voice.channels, _SCRATCH), dtype=np.float32)
    for strike in strikes:
        if strike.start < stop and strike.start + strike.length > start:
            for place, piece, shape in _pieces(voice, strike, bank):
                _add(out, scratch, place - start, piece, shape * np.float32(strike.gain * gain))
    fade_out(out, start, end)
    return np.broadcast_to(out, (2, stop - start))


def fade_out(sound: Audio, start: int, end: int) -> None:
    """Fade what begins at frame ``start`` out over the second before ``end``, by a quarter of a
    cosine, in place. A frame's gain depends on its place alone."""
    first = max(end - frame_of(_FADE_S) - start, 0)
    if first < sound.shape[1]:
        left = np.clip((end - start - np.arange(first, sound.shape[1])) / frame_of(_FADE_S), 0, 1)
        sound[:, first:] *= np.sin(left * np.pi / 2).astype(np.float32)


def _add(
    out: Audio, scratch: Audio, place: int, piece: Audio, gain: NDArray[np.float32] | np.float32
) -> None:
    first = max(-place, 0)
    last = min(out.shape[1] - place, piece.shape[1])
    for at in range(first, last, _SCRATCH):
        end = min(at + _SCRATCH, last)
        loud = gain[at:end] if isinstance(gain, np.ndarray) else gain
        part = np.multiply(piece[:, at:end], loud, out=scratch[:, : end - at])
        out[:, place + at : place + end] += part


def _pieces(
    voice: Voice, strike: Strike, bank: NoteBank
) -> Iterator[tuple[int, Audio, NDArray[np.float32] | np.float32]]:
    """A note as it is heard: held, then let go. Each piece comes with its first frame and its
    shape."""
    note = bank.note(strike.sample, strike.midi, strike.length)
    if voice.is_kit and strike.held >= note.shape[1]:
        yield strike.start, note, np.float32(1)
        return
    yield strike.start, note[:, : strike.held], np.float32(1)
    let_go = note[:, strike.held : strike.length]
    if let_go.shape[1]:
        fall = _fall(strike.fall_db_per_s)[: let_go.shape[1]]
        yield strike.start + strike.held, let_go[:, : len(fall)], fall


@lru_cache(maxsize=256)
def _fall(db_per_s: float) -> NDArray[np.float32]:
    """The curve of a released note: straight in dB, ending at nothing."""
    length = int(_SILENT_DB / db_per_s * BANK_RATE) + 1
    fall = 10 ** (-db_per_s * np.arange(length) / BANK_RATE / 20)
    return np.asarray(fall - np.linspace(0, fall[-1], length), dtype=np.float32)
