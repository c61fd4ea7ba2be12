"""The count-in: beats clicked or spoken before the first bar."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from changewright.band.feel import PIECES
from changewright.band.song import beat_lengths
from changewright.band.touch import Hit
from changewright.music.bar import Bar, Quarters
from changewright.music.clock import Clock
from changewright.music.performance import Event, Part

__all__ = ["QUICK_BPM", "WORDS_KIT", "clicked", "spoken"]

QUICK_BPM = 108
"""From here on two bars are counted, the first of them in halves. Source: common practice, no
source."""

WORDS_KIT = 56
"""The kit whose keys 1 to 8 are the words one to eight."""

_ACCENT, _PLAIN = 0.6, 0.45
_WORD_VELOCITY, _WORDS = 80, 8


@dataclass(frozen=True, slots=True)
class _Beat:
    onset: Quarters
    number: int
    length: Quarters


def clicked(first: Bar, bars: int, clock: Clock) -> tuple[Hit, ...]:
    """Clicks for the bars before the first, the beat one of each a little louder."""
    key = PIECES["cross-stick"]
    return tuple(
        Hit(beat.onset, Fraction(1, 4), key, _ACCENT if beat.number == 1 else _PLAIN)
        for beat in _counted(first, bars, clock)
    )


def spoken(first: Bar, bars: int, clock: Clock) -> Part:
    """The same beats as words: the part ``count-in``, its keys the numbers spoken."""
    return Part(
        "count-in",
        WORDS_KIT,
        tuple(
            Event(
                clock.to_seconds(beat.onset),
                float(beat.length) * clock.quarter_s,
                (beat.number - 1) % _WORDS + 1,
                _WORD_VELOCITY,
            )
            for beat in _counted(first, bars, clock)
        ),
        is_drums=True,
    )


def _counted(first: Bar, bars: int, clock: Clock) -> Iterator[_Beat]:
    """Every beat of the last bar before the first; of those before it every other where time is
    quick enough. Into a pickup the count goes on, so that it falls where it is written: on four
    of one, two, three, four. Halves are numbered as they are counted: one, two."""
    lengths = beat_lengths(first.meter, first.meter.length)
    halves = clock.bpm >= QUICK_BPM and len(lengths) == 4
    pickup = first.length if first.number == 0 else Fraction(0)
    for bar in range(bars):
        at = first.start + pickup - (bars - bar) * first.meter.length
        slow = halves and bar < bars - 1
        for beat, length in enumerate(lengths):
            if not slow:
                yield _Beat(at, beat + 1, length)
            elif beat % 2 == 0:
                yield _Beat(at, beat // 2 + 1, length * 2)
            at += length
