"""Render a performance: a stem a part on one time axis, and their sum at a stated loudness."""

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from changewright.errors import InputError
from changewright.music.performance import Part, Performance
from changewright.sound.bank import BANK_RATE, BRUSHES, WORDS, Audio, NoteBank, voice_of
from changewright.sound.levelling import levelling
from changewright.sound.loudness import SILENT_LUFS, Loudness, Meter
from changewright.sound.mix import Strike, frame_of, mixed, strikes_of, tail_s

__all__ = [
    "BALANCE_DB",
    "MOST_HELD_S",
    "TAIL_S",
    "Stems",
    "Track",
    "length_of",
    "render",
    "synthesise",
    "tracks_of",
]

BALANCE_DB: Mapping[str, float] = MappingProxyType(
    {"line": 0.0, "bass": -7.5, "comping": -8.5, "drums": -10.3, "count-in": -11.0, "click": -9.0}
)
"""Each part's level beside a line of equal weight. Source: the soloist is always the loudest,
by about 6 dB (common practice, no source); trimmed by measured loudness of the stems."""

MOST_HELD_S = 600.0
"""The longest performance that is sounded in memory, in seconds; longer ones are streamed."""

TAIL_S = 2.5
"""How long the last notes may ring after the last bar line, in seconds; what rings on is faded
out over the last of them."""

# Brushes are softer than the sticks that a kit is balanced by; a spoken count lies 12 dB under the
# band. Source: common practice, no source; measured: loudest 400 ms of each.
_KIT_DB = {BRUSHES: 4.0, WORDS: -3.0}
_REFERENCE_LUFS = -23.0
_OTHER_DB = -5.0
_BANK = NoteBank()


@dataclass(frozen=True, slots=True)
class Track:
    """A part with its strikes, in order of their first frames, its gain, and the frame at which
    even the longest cymbal is over."""

    part: Part
    strikes: tuple[Strike, ...]
    starts: tuple[int, ...]
    longest: int
    gain: float
    end: int

    def block(self, start: int, stop: int, bank: NoteBank) -> Audio:
        """The frames [start, stop), shape (2, frames)."""
        voice = voice_of(self.part.program, self.part.is_drums)
        first = bisect_left(self.starts, start - self.longest)
        last = bisect_left(self.starts, stop)
        return mixed(voice, self.strikes[first:last], start, stop, bank, self.gain, self.end)


@dataclass(frozen=True)
class Stems:
    """Sample-aligned sound by part name, each of shape (frames, 2).

    ``mix`` is the sum of the stems in their order, exactly. ``gain_db`` is what was added to reach
    ``loudness``, apart from dips around peaks, which all stems share.
    """

    rate: int
    audio: Mapping[str, NDArray[np.float32]]
    loudness: Loudness
    gain_db: float

    def __getitem__(self, name: str) -> NDArray[np.float32]:
        return self.audio[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.audio)

    def __len__(self) -> int:
        return len(self.audio)

    @property
    def frames(self) -> int:
        """How many frames every stem has."""
        return next((len(stem) for stem in self.audio.values()), 0)

    @cached_property
    def mix(self) -> NDArray[np.float32]:
        """All stems together."""
        total = np.zeros((self.frames, 2), dtype=np.float32, order="F")
        for stem in self.audio.values():
            total += stem
        return total


def render(performance: Performance, *, rate: int = BANK_RATE) -> Stems:
    """Sound a performance as stems whose mix lies at -18 LUFS, true peak at most -1 dBTP.

    Raises ValueError for another rate than 48000, at which the notes are kept, and
    :class:`InputError` for more than ten minutes, which would not fit in memory.
    """
    if rate != BANK_RATE:
        raise ValueError(f"the note bank sounds at {BANK_RATE} frames a second, not {rate}")
    if performance.length_s > MOST_HELD_S:
        raise InputError(
            f"{performance.length_s / 60:.0f} minutes of stems don't fit in memory",
            remedy="Write them with stream_stems, which holds a few seconds at a time.",
        )
    raw = synthesise(performance)
    meter = Meter(rate)
    meter.add(raw.mix.T)
    level = levelling(meter)
    stems = {name: level.applied(stem) for name, stem in raw.audio.items()}
    return Stems(rate, MappingProxyType(stems), level.loudness, level.gain_db)


def synthesise(performance: Performance, bank: NoteBank = _BANK) -> Stems:
    """Sound a performance at its natural level: parts balanced, the whole not yet made louder."""
    tracks = tracks_of(performance)
    length = length_of(performance, tracks)
    audio = {track.part.name: track.block(0, length, bank).T for track in tracks}
    return Stems(BANK_RATE, MappingProxyType(audio), Loudness(SILENT_LUFS, SILENT_LUFS), 0.0)


def tracks_of(performance: Performance) -> tuple[Track, ...]:
    """The parts, ready to be mixed, each voice balanced by its weighted level."""
    end = frame_of(performance.length_s + TAIL_S)
    return tuple(_track(part, end) for part in performance.parts)


def _track(part: Part, end: int) -> Track:
    voice = voice_of(part.program, part.is_drums)
    level_db = _REFERENCE_LUFS - voice.loudness + BALANCE_DB.get(part.name, _OTHER_DB)
    level_db += _KIT_DB.get(voice.id, 0.0)
    strikes = tuple(sorted(strikes_of(part), key=attrgetter("start")))
    return Track(
        part=part,
        strikes=strikes,
        starts=tuple(strike.start for strike in strikes),
        longest=max((strike.length for strike in strikes), default=0),
        gain=float(10 ** (level_db / 20)),
        end=end,
    )


def length_of(performance: Performance, tracks: tuple[Track, ...]) -> int:
    """How many frames the stems have: to the last bar line, and until it has rung out."""
    ringing = max((tail_s(track.strikes) for track in tracks), default=0.0)
    end = min(max(ringing, performance.length_s), performance.length_s + TAIL_S)
    return max(frame_of(end), 1)
