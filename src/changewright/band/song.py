"""The form laid out in time for a band: every bar of every chorus, and which chord sounds when."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate
from operator import attrgetter

from changewright.band.pattern import Pattern, Step
from changewright.music.bar import Bar, Meter, Quarters
from changewright.reading.model import ReadChange, Reading
from changewright.theory.chord import Chord
from changewright.theory.scale import Scale

__all__ = [
    "PlayedBar",
    "Song",
    "Stretch",
    "beat_lengths",
    "chorus_shifts",
    "fitting",
    "song_of",
    "steps_in",
]

_PHRASE = 4
_onset = attrgetter("onset")


@dataclass(frozen=True, slots=True)
class Stretch:
    """A chord for as long as it sounds, bar lines or not. ``scale`` is the first choice over it,
    or None for N.C."""

    onset: Quarters
    end: Quarters
    chord: Chord
    scale: Scale | None


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """A bar of one chorus. ``start`` counts from the downbeat after the count-in; ``beats`` are
    the lengths of its beats; ``opens`` and ``closes`` mark sections, ``phrase_ends`` every fourth
    bar and each section's last."""

    bar: Bar
    chorus: int
    start: Quarters
    beats: tuple[Quarters, ...]
    opens: bool
    closes: bool
    phrase_ends: bool
    is_last: bool

    @property
    def end(self) -> Quarters:
        """Where the next bar begins."""
        return self.start + self.bar.length

    def place(self, at: Fraction) -> Quarters:
        """The instant of a place counted in beats from 0, within beats as written."""
        beat, part = divmod(at, 1)
        starts = (Fraction(0), *accumulate(self.beats))
        if beat >= len(self.beats):
            return self.end
        return self.start + starts[int(beat)] + part * self.beats[int(beat)]


@dataclass(frozen=True, slots=True)
class Song:
    """All bars to be played and all chords, in order."""

    bars: tuple[PlayedBar, ...]
    stretches: tuple[Stretch, ...]
    choruses: int

    @property
    def length(self) -> Quarters:
        """From the first downbeat to the last bar line."""
        return self.bars[-1].end

    def at(self, onset: Quarters) -> Stretch:
        """The chord at an instant; the top's first chord after the end."""
        if onset >= self.length:
            return self.stretches[0]
        return self.stretches[max(bisect_right(self.stretches, onset, key=_onset) - 1, 0)]

    def bar_at(self, onset: Quarters) -> PlayedBar:
        """The bar that an instant lies in; the last for anything later."""
        return self.bars[max(bisect_right(self.bars, onset, key=attrgetter("start")) - 1, 0)]

    def laid_out(self) -> tuple[Bar, ...]:
        """All bars one after the other, numbered through, with their changes."""
        return tuple(
            replace(
                played.bar,
                number=number if played.bar.number else 0,
                start=played.start,
                changes=tuple(
                    replace(c, onset=c.onset + played.start - played.bar.start)
                    for c in played.bar.changes
                ),
            )
            for number, played in enumerate(self.bars, start=1 - (self.bars[0].bar.number == 0))
        )

    def starting_in(self, bar: PlayedBar) -> Sequence[Stretch]:
        """The chords that begin in a bar."""
        first = bisect_left(self.stretches, bar.start, key=_onset)
        return self.stretches[first : bisect_left(self.stretches, bar.end, key=_onset)]


def song_of(choruses: Sequence[Reading]) -> Song:
    """Lay out one reading a chorus. A pickup bar is counted through, and comes before the first
    chorus only."""
    bars: list[PlayedBar] = []
    stretches: list[Stretch] = []
    at = Fraction(0)
    for number, reading in enumerate(choruses):
        own = [b for b in reading.bars if number == 0 or b.number > 0]
        shift = at - own[0].start
        bars += _played(own, number, shift, number == len(choruses) - 1)
        heard = (r for r in reading.changes if number == 0 or r.bar > 0)
        stretches += [_stretch(read, shift) for read in heard]
        at = bars[-1].end
    return Song(tuple(bars), _merged(stretches), len(choruses))


def _stretch(read: ReadChange, shift: Quarters) -> Stretch:
    change, scales = read.change, read.scales
    onset = change.onset + shift
    scale = scales[0].scale if scales else None
    return Stretch(onset, onset + change.duration, change.chord, scale)


def chorus_shifts(bars: Sequence[Bar], choruses: int) -> list[Quarters]:
    """How much later than in the chart each chorus is played. The first bar starts at 0; only
    the first chorus has the pickup."""
    first, full = bars[0], [b for b in bars if b.number > 0]
    length = full[-1].end - full[0].start
    return [chorus * length - first.start for chorus in range(choruses)]


def beat_lengths(meter: Meter, length: Quarters) -> tuple[Quarters, ...]:
    """The beats that a bar is felt in: quarters; dotted quarters in 6/8, 9/8 and 12/8; and
    quarters with a dotted one last in 5/8 and 7/8."""
    quarter, dotted = Fraction(1), Fraction(3, 2)
    if meter.unit == 8 and meter.beats % 3 == 0:
        return (dotted,) * max(int(length / dotted), 1)
    whole = int(length)
    if whole == length:
        return (quarter,) * whole
    return (*(quarter,) * (whole - 1), 1 + length - whole) if whole else (length,)


def fitting(known: Iterable[int], beats: int) -> list[tuple[int, int]]:
    """Split a bar's beats into groups that rhythms exist for: five into three and two.

    Each group is the length of the rhythm and how many of its beats are played; only a bar
    shorter than any rhythm cuts one short.
    """
    lengths = sorted(set(known), reverse=True)
    if not lengths or beats <= 0:
        return []
    if beats in lengths:
        return [(beats, beats)]
    longest = next((n for n in lengths if n < beats and beats - n != 1), None)
    if longest is None:
        longest = next((n for n in lengths if n < beats), None)
    if longest is None:
        return [(lengths[-1], beats)]
    return [(longest, longest), *fitting(lengths, beats - longest)]


def steps_in(pattern: Pattern, bar: int, shift: int, beats: int) -> Sequence[Step]:
    """The steps in the first ``beats`` of one bar of a pattern, ``shift`` beats later."""
    steps = pattern.bars[bar % len(pattern.bars)]
    return [Step(s.at + shift, min(s.length, beats - s.at), s.sign) for s in steps if s.at < beats]


def _played(own: Sequence[Bar], chorus: int, shift: Quarters, last: bool) -> list[PlayedBar]:
    labelled = [i for i, bar in enumerate(own) if bar.label and i]
    opens = {0, *labelled} if labelled else set(range(0, len(own), _section(len(own))))
    made = []
    since = 0
    for i, bar in enumerate(own):
        since = 0 if i in opens else since + 1
        closes = i == len(own) - 1 or i + 1 in opens
        made.append(
            PlayedBar(
                bar=bar,
                chorus=chorus,
                start=bar.start + shift,
                beats=beat_lengths(bar.meter, bar.length),
                opens=i in opens,
                closes=closes,
                phrase_ends=closes or since % _PHRASE == _PHRASE - 1,
                is_last=last and i == len(own) - 1,
            )
        )
    return made


def _section(bars: int) -> int:
    return 12 if bars % 12 == 0 and bars % 8 else 8


def _merged(stretches: Sequence[Stretch]) -> tuple[Stretch, ...]:
    made: list[Stretch] = []
    for one in stretches:
        if made and made[-1].chord == one.chord and made[-1].end == one.onset:
            made[-1] = Stretch(made[-1].onset, one.end, one.chord, made[-1].scale)
        else:
            made.append(one)
    return tuple(made)
