"""Accompany a reading: count in, bass, comping and drums on one time axis."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from changewright.band.bass import bass_line
from changewright.band.clocks import clocks_of
from changewright.band.comping import comping
from changewright.band.drums import drumming
from changewright.band.feel import PIECES, Feel
from changewright.band.feel import feel as feel_named
from changewright.band.song import Song, beat_lengths, song_of
from changewright.band.touch import Hit, Touch, performed
from changewright.music.bar import Bar, Meter
from changewright.music.clock import Clock
from changewright.music.performance import Part, Performance
from changewright.reading.model import Reading

__all__ = ["PARTS", "accompany"]

PARTS = ("count-in", "bass", "comping", "drums")
"""The parts of a band, in the order in which they are mixed."""

_TOUCHES = {
    "count-in": Touch(soft=40, loud=100, spread_ms=0.0),
    "bass": Touch(soft=30, loud=108, spread_ms=4.0, short=0.94),
    "comping": Touch(soft=18, loud=98, spread_ms=4.5),
    "drums": Touch(soft=12, loud=104, spread_ms=3.0),
    "foot": Touch(soft=12, loud=104, spread_ms=2.5, late_ms=-6.0),
}
_THREES = "twelve-eight"
_FOOT = PIECES["foot-hat"]


@dataclass(frozen=True, slots=True)
class _Played:
    """What all players of one performance share."""

    song: Song
    feel: Feel
    clock: Clock
    seed: int

    def part(self, name: str, program: int, hits: tuple[Hit, ...], drums: bool = False) -> Part:
        """One player's part."""
        rng = Random(f"touch/{name}/{self.seed}")
        touch = _TOUCHES[name]
        if name == "comping":
            touch = Touch(touch.soft, touch.loud, touch.spread_ms, 0.0, self.feel.comping.short)
        hands = performed((h for h in hits if not _foot(h, drums)), self.clock, touch, rng)
        feet = performed((h for h in hits if _foot(h, drums)), self.clock, _TOUCHES["foot"], rng)
        return Part(name, program, tuple(sorted((*hands, *feet))), drums)


def accompany(
    reading: Reading,
    *,
    bpm: float,
    feel: Feel | str = "swing",
    choruses: int = 1,
    seed: int = 0,
    level: int = 4,
    count_in_bars: int = 1,
    swing: float = 1.0,
) -> Performance:
    """Play a reading as a rhythm section would: same arguments, same performance.

    ``bpm`` is quarters a minute; ``level`` (1 to 8) makes the bass play in two and the chords
    plain for beginners; ``swing`` is the teacher's slider, 0 for even. The parts are ``count-in``,
    ``bass``, ``comping`` and ``drums``. Raises :class:`UnknownName` for a feel we don't have.
    """
    if choruses < 1 or not 1 <= level <= 8 or count_in_bars < 0:
        raise ValueError("play one chorus or more, at a level from 1 to 8")
    chosen = feel_named(feel) if isinstance(feel, str) else feel
    meter = reading.bars[0].meter
    chosen = fitting_meter(chosen, meter)
    clock = clocks_of(chosen, bpm, meter, count_in_bars=count_in_bars, swing=swing).band
    song = song_of(reading, choruses)
    played = _Played(song, chosen, clock, seed)
    hits = {
        "count-in": tuple(_count(reading.bars[0], count_in_bars, clock)),
        "bass": bass_line(song, chosen, level, seed),
        "comping": comping(song, chosen, bpm, level, seed),
        "drums": drumming(song, chosen, level, seed),
    }
    programs = {"count-in": 32, "bass": chosen.bass.program, "comping": chosen.comping.program}
    parts = tuple(
        played.part(
            name, programs.get(name, chosen.drums.kit), hits[name], name in ("count-in", "drums")
        )
        for name in PARTS
    )
    return Performance(parts, clock.to_seconds(song.length))


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


def _count(first: Bar, bars: int, clock: Clock) -> Iterator[Hit]:
    """Click every beat of the bars before the first; the first beat of each a little harder."""
    lengths = beat_lengths(first.meter, first.meter.length)
    at = -clock.lead_in
    for _ in range(bars):
        for beat, length in enumerate(lengths):
            yield Hit(at, Fraction(1, 4), PIECES["cross-stick"], 0.6 if beat == 0 else 0.45)
            at += length


def _foot(hit: Hit, drums: bool) -> bool:
    return drums and hit.midi == _FOOT
