"""Add notes at whole frames: the mixing of one part.

Each event's frame is computed from its absolute time, never by adding durations, so that no error
grows. The note is placed so that its audible attack, not its first faint sample, falls there.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from changewright.music.performance import Event, Part
from changewright.sound.bank import BANK_RATE, Audio, NoteBank, Sample, Voice, voice_of

__all__ = ["Strike", "frame_of", "mixed", "strikes_of", "tail_s"]

_SILENT_DB = 66.0
_CHOKE_DB_PER_S = 2000.0
_OPEN_HAT, _CLOSED_HATS = 46, (42, 44)
_LONGEST_S = 60.0


@dataclass(frozen=True, slots=True)
class Strike:
    """One event, ready to be mixed. ``onset`` is where it becomes audible, ``held`` how many
    frames until it is let go, in whole frames."""

    onset: int
    held: int
    midi: int
    gain: float
    fall_db_per_s: float
    sample: Sample

    @property
    def start(self) -> int:
        """The frame of the note's first sample, which may lie before frame 0."""
        return self.onset - round(self.sample.attack / 2 ** ((self.midi - self.sample.midi) / 12))

    @property
    def length(self) -> int:
        """How long the note can be heard, in frames."""
        return self.held + int(_SILENT_DB / self.fall_db_per_s * BANK_RATE)


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
        if event.midi == _OPEN_HAT:
            after = next((at for at in chokes if at > event.onset_s), _LONGEST_S + event.onset_s)
            held = min(held, frame_of(after) - onset)
    gain = voice.gain(sample, event.velocity)
    return Strike(onset, max(held, 1), event.midi, gain, fall, sample)


def tail_s(strikes: Iterable[Strike]) -> float:
    """When the last note of a part can no longer be heard."""
    return max((s.start + min(s.length, _heard(s)) for s in strikes), default=0) / BANK_RATE


def _heard(strike: Strike) -> int:
    return strike.length if strike.sample.loop else 2 * strike.sample.frames


def mixed(
    voice: Voice, strikes: Sequence[Strike], start: int, stop: int, bank: NoteBank, gain: float
) -> Audio:
    """The sound of a part in the frames [start, stop), shape (2, stop - start).

    The sum is taken in order of onset, so that a stretch is the same bit for bit whether it is
    mixed alone or with its neighbours.
    """
    stereo = next((s for s in strikes), None) is not None and voice.id == "piano"
    out = np.zeros((2 if stereo else 1, stop - start), dtype=np.float32)
    for strike in strikes:
        if strike.start < stop and strike.start + strike.length > start:
            _add(out, voice, strike, start, bank, gain)
    return out if stereo else np.broadcast_to(out, (2, stop - start))


def _add(out: Audio, voice: Voice, strike: Strike, start: int, bank: NoteBank, gain: float) -> None:
    note = sounding(voice, strike, bank)
    first = max(start - strike.start, 0)
    last = min(start + out.shape[1] - strike.start, note.shape[1])
    if last > first:
        at = strike.start + first - start
        out[:, at : at + last - first] += note[:, first:last] * np.float32(strike.gain * gain)


def sounding(voice: Voice, strike: Strike, bank: NoteBank) -> Audio:
    """One note as long as it is heard: repeated while it is held, then let go."""
    note = bank.note(strike.sample, strike.midi, strike.length)
    if strike.sample.loop and note.shape[1] < strike.length:
        note = _extended(note, strike)
    if voice.is_kit and strike.held >= note.shape[1]:
        return note
    body = note[:, : strike.length]
    released = body.shape[1] - strike.held
    if released <= 0:
        return body
    let_go = body[:, strike.held :] * _fall(strike.fall_db_per_s)[:released]
    return np.concatenate([body[:, : strike.held], let_go], axis=1)


def _extended(note: Audio, strike: Strike) -> Audio:
    assert_loop = strike.sample.loop or (0, strike.sample.frames)
    ratio = note.shape[1] / strike.sample.frames
    begin = round(assert_loop[0] * ratio)
    turn = note[:, begin:]
    times = -(-(strike.length - note.shape[1]) // turn.shape[1])
    return np.concatenate([note, *[turn] * times], axis=1)


@lru_cache(maxsize=256)
def _fall(db_per_s: float) -> Audio:
    """The curve of a released note: straight in dB, ending at nothing."""
    length = int(_SILENT_DB / db_per_s * BANK_RATE) + 1
    fall = 10 ** (-db_per_s * np.arange(length) / BANK_RATE / 20)
    return np.asarray(fall - np.linspace(0, fall[-1], length), dtype=np.float32)
