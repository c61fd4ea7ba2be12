"""Accompany a reading: count in, bass, comping and drums on one time axis."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from random import Random

from changewright.band.bass import GHOST, bass_line
from changewright.band.clocks import clocks_of
from changewright.band.comping import comping
from changewright.band.count import clicked
from changewright.band.drums import drumming
from changewright.band.feel import PIECES, Feel
from changewright.band.feel import feel as feel_named
from changewright.band.song import Ending, Song, song_of
from changewright.band.touch import Hit, Touch, performed
from changewright.errors import InputError
from changewright.music.bar import Meter, Quarters
from changewright.music.clock import Clock
from changewright.music.performance import Part, Performance
from changewright.reading.model import Reading

__all__ = ["MOST_BARS", "PARTS", "accompany", "fitting_meter", "last_length"]

PARTS = ("count-in", "bass", "comping", "drums")
"""The parts of a band, in the order in which they are mixed."""

MOST_BARS = 20_000
"""The longest performance, in bars: some nine hours at a medium tempo."""

_TOUCHES = {
    "count-in": Touch(soft=40, loud=100, spread_ms=0.0),
    "bass": Touch(soft=30, loud=108, spread_ms=4.0, short=0.94),
    "comping": Touch(soft=18, loud=98, spread_ms=4.5),
    "drums": Touch(soft=12, loud=104, spread_ms=3.0),
    "foot": Touch(soft=12, loud=104, spread_ms=2.5, late_ms=-6.0),
}
_THREES = "twelve-eight"
_HELD_S, _STOP_S = 3.5, 1.5
_STICKS = 32
_UP = 208
_FOOT = PIECES["foot-hat"]


@dataclass(frozen=True, slots=True)
class _Played:
    """What all players of one performance share."""

    song: Song
    feel: Feel
    clock: Clock
    seed: int

    def part(self, name: str, hits: Sequence[Hit]) -> Part:
        """One player's part, the drummer's foot a little ahead of his hands."""
        rng, touch = Random(f"touch/{name}/{self.seed}"), _TOUCHES[name]
        is_drums = name in ("count-in", "drums")
        if name == "comping":
            touch = replace(touch, short=self.feel.comping.short)
        feet = [hit for hit in hits if is_drums and hit.midi == _FOOT]
        hands = [hit for hit in hits if not (is_drums and hit.midi == _FOOT)]
        events = (
            *performed(hands, self.clock, touch, rng),
            *performed(feet, self.clock, _TOUCHES["foot"], rng),
        )
        return Part(name, self._program(name), tuple(sorted(events)), is_drums)

    def _program(self, name: str) -> int:
        own = {
            "count-in": _STICKS,  # brushes are made louder than sticks, and a click must not be
            "bass": self.feel.bass.program,
            "comping": self.feel.comping.program,
            "drums": self.feel.drums.kit,
        }
        return own[name]


def accompany(
    reading: Reading | Sequence[Reading],
    *,
    bpm: float,
    feel: Feel | str = "swing",
    choruses: int = 1,
    seed: int = 0,
    level: int = 4,
    count_in_bars: int = 1,
    swing: float = 1.0,
    intro: Reading | None = None,
    ending: Ending = "stop",
) -> Performance:
    """Play a reading as a rhythm section would: same arguments, same performance.

    ``bpm`` is quarters a minute; ``level`` (1 to 8) makes the bass play in two and the chords
    plain for beginners; ``swing`` is the teacher's slider, 0 for even. Several readings are played
    one a chorus, ``choruses`` times over: a tune round the keys. An ``intro`` comes between the
    count-in and the first chorus, whose first bar stays at 0. An ``ending`` of ``none`` leads from
    the last bar back to the top. The parts are ``count-in``, ``bass``, ``comping`` and ``drums``.
    Raises :class:`UnknownName` for a feel we don't have, and :class:`InputError` for more bars
    than anyone would play.
    """
    readings = (reading,) if isinstance(reading, Reading) else tuple(reading)
    if not readings or choruses < 1 or not 1 <= level <= 8 or count_in_bars < 0:
        raise ValueError("play one chorus or more, at a level from 1 to 8")
    bars = choruses * sum(len(one.bars) for one in readings)
    if bars > MOST_BARS:
        raise InputError(
            f"{bars} bars are more than a band plays in one go",
            remedy=f"Ask for fewer choruses: {MOST_BARS} bars at most.",
        )
    meter = readings[0].bars[0].meter
    chosen = fitting_meter(feel_named(feel) if isinstance(feel, str) else feel, meter)
    song = song_of(readings * choruses, intro, ending, last_length(meter, bpm, ending))
    first = replace(song.bars[0].bar, start=song.start)
    clock = clocks_of(
        chosen, bpm, meter, count_in_bars=count_in_bars, before=-song.start, swing=swing
    ).band
    played = _Played(song, chosen, clock, seed)
    parts = (
        played.part("count-in", clicked(first, count_in_bars, clock)),
        played.part("bass", _playable(bass_line(song, chosen, level, seed), bpm)),
        played.part("comping", comping(song, chosen, bpm, level, seed)),
        played.part("drums", drumming(song, chosen, level, seed)),
    )
    end = song.after.end if song.ending == "held" else song.length
    return Performance(parts, clock.to_seconds(end))


def last_length(meter: Meter, bpm: float, ending: Ending) -> Quarters:
    """How long a last chord lasts: held for whole bars until some four seconds are over; on a stop
    a bar, or a second and a half where bars are longer. Source: common practice, no source."""
    if ending == "held":
        return ceil(_HELD_S * bpm / 60 / meter.length) * meter.length
    return min(meter.length, Fraction(max(int(_STOP_S * bpm / 60), 1)))


def _playable(line: Sequence[Hit], bpm: float) -> list[Hit]:
    """Leave the skip notes out where nobody would fit them in."""
    return [hit for hit in line if bpm <= _UP or hit.force > GHOST]


def fitting_meter(chosen: Feel, meter: Meter) -> Feel:
    """A feel as it is played in a meter: where the beat divides in three, with the rhythms of
    ``twelve-eight`` on the feel's own instruments."""
    if meter.unit != 8 or meter.beats % 3 or chosen.id == _THREES:
        return chosen
    threes = feel_named(_THREES)
    return replace(
        chosen,
        bass=replace(threes.bass, program=chosen.bass.program),
        comping=replace(threes.comping, program=chosen.comping.program),
        drums=replace(threes.drums, kit=chosen.drums.kit, crash=chosen.drums.crash),
    )
