"""The form laid out in time for a band: every bar of every chorus, and which chord sounds when."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate
from operator import attrgetter
from typing import Literal

from changewright.band.pattern import Pattern, Step
from changewright.music.bar import Bar, Meter, Quarters
from changewright.reading.model import ReadChange, Reading
from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.scale import Scale
from changewright.theory.symbols import read_symbol

__all__ = [
    "ENDINGS",
    "Ending",
    "PlayedBar",
    "Song",
    "Stretch",
    "beat_lengths",
    "chorus_shifts",
    "fitting",
    "home_of",
    "song_of",
    "steps_in",
]

Ending = Literal["stop", "held", "none"]
ENDINGS: tuple[Ending, ...] = ("stop", "held", "none")
"""How a band may end: with a stroke on the one after the last bar, by holding its last chord, or
not at all, so that the last bar leads back to the top."""

_PHRASE = 4
_SOFTEST, _SWELL = 0.86, 0.18
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
    """A bar of one chorus, or of the intro, whose ``chorus`` is -1 and which lies before 0.
    ``start`` counts from the first chorus's first bar; ``beats`` are the lengths of its beats;
    ``opens`` and ``closes`` mark sections, ``phrase_ends`` every fourth bar and each section's
    last."""

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
    """All bars to be played and all chords, in order. ``after`` is what follows the last bar line:
    the last chord of an ending, for as long as it is held, or the top again."""

    bars: tuple[PlayedBar, ...]
    stretches: tuple[Stretch, ...]
    choruses: int
    after: Stretch
    ending: Ending = "stop"

    @property
    def ends(self) -> bool:
        """Tell whether the band plays the chord after the last bar line."""
        return self.ending != "none"

    @property
    def start(self) -> Quarters:
        """Where the first bar begins: 0, or earlier by the length of an intro."""
        return self.bars[0].start

    @property
    def length(self) -> Quarters:
        """From the first chorus's first bar to the last bar line."""
        return self.bars[-1].end

    def build(self, bar: PlayedBar) -> float:
        """How far the performance has built up in a bar: 0 in the first of several choruses and in
        the intro, 1 in the last."""
        if self.choruses == 1:
            return 0.5 if bar.chorus >= 0 else 0.0
        return max(bar.chorus, 0) / (self.choruses - 1)

    def swell(self, bar: PlayedBar) -> float:
        """What every stroke's force is multiplied by: softer on the first chorus, so that there
        is somewhere to go. Source: domain reference 7.6, dynamics follow form."""
        return _SOFTEST + _SWELL * self.build(bar)

    def at(self, onset: Quarters) -> Stretch:
        """The chord at an instant; what follows the last bar line for anything later."""
        if onset >= self.length:
            return self.after
        return self.stretches[max(bisect_right(self.stretches, onset, key=_onset) - 1, 0)]

    def is_pedal(self, stretch: Stretch) -> bool:
        """Tell whether the bass stays where it is while the chords over it move."""
        at = bisect_left(self.stretches, stretch.onset, key=_onset)
        around = (*self.stretches[max(at - 1, 0) : at], *self.stretches[at + 1 : at + 2])
        low = stretch.chord.bass or stretch.chord.root
        return low is not None and any(
            (other.chord.bass or other.chord.root) == low and other.chord.root != stretch.chord.root
            for other in around
        )

    def bar_at(self, onset: Quarters) -> PlayedBar:
        """The bar that an instant lies in; the last for anything later."""
        return self.bars[max(bisect_right(self.bars, onset, key=attrgetter("start")) - 1, 0)]

    def laid_out(self) -> tuple[Bar, ...]:
        """All bars one after the other from 0 on, numbered through, with their changes."""
        return tuple(
            replace(
                played.bar,
                number=number if played.bar.number else 0,
                start=played.start - self.start,
                changes=tuple(
                    replace(c, onset=c.onset + played.start - self.start - played.bar.start)
                    for c in played.bar.changes
                ),
            )
            for number, played in enumerate(self.bars, start=1 - (self.bars[0].bar.number == 0))
        )

    def starting_in(self, bar: PlayedBar) -> Sequence[Stretch]:
        """The chords that begin in a bar."""
        first = bisect_left(self.stretches, bar.start, key=_onset)
        return self.stretches[first : bisect_left(self.stretches, bar.end, key=_onset)]


def song_of(
    choruses: Sequence[Reading],
    intro: Reading | None = None,
    ending: Ending = "stop",
    last: Quarters = Fraction(4),
) -> Song:
    """Lay out one reading a chorus, and an ``intro`` before them.

    A pickup bar is counted through, or lies under the end of the intro, and comes before the first
    chorus only. A reading shorter than the first is a tag and belongs to the chorus before it. An
    ``ending`` comes home after the last bar line, for ``last`` quarters; without one the top
    follows.
    """
    bars: list[PlayedBar] = []
    stretches: list[Stretch] = []
    at, chorus, full = Fraction(0), -1, sum(b.number > 0 for b in choruses[0].bars)
    tops: list[Stretch] = []
    for number, reading in enumerate(choruses):
        pickup = number == 0 and intro is None
        own = [b for b in reading.bars if pickup or b.number > 0]
        if number == 0 and intro is not None:
            at = own[0].start - reading.bars[0].start
            stretches += _before(intro, at, bars)
        chorus += sum(b.number > 0 for b in own) >= full
        shift = at - own[0].start
        bars += _played(own, chorus, shift, number == len(choruses) - 1)
        heard = (r for r in reading.changes if pickup or r.bar > 0)
        tops += [_stretch(read, shift) for read in heard]
        at = bars[-1].end
    home = home_of(choruses[-1], at, last)
    after = tops[0] if ending == "none" else home
    return Song(tuple(bars), _merged([*stretches, *tops]), chorus + 1, after, ending)


def _before(intro: Reading, at: Quarters, bars: list[PlayedBar]) -> list[Stretch]:
    """Lay an intro out so that it ends at ``at``."""
    shift = at - intro.bars[-1].end
    bars += _played(intro.bars, -1, shift, last=False)
    return [_stretch(read, shift) for read in intro.changes]


def home_of(reading: Reading, onset: Quarters, length: Quarters) -> Stretch:
    """The chord that an ending comes to: the form's own last chord on the tonic, or a sixth chord
    on it where the form has none. A blues ends on its seventh chord. Source: common practice, no
    source."""
    key = reading.key
    at_home = [r for r in reading.changes if _is_home(r.change.chord, key)]
    settled = [r for r in at_home if not r.change.chord.is_dominant] or at_home
    if settled:
        known = _stretch(settled[-1], Fraction(0))
        return replace(known, onset=onset, end=onset + length)
    symbol = f"{key.tonic}{'m' if key.mode == 'minor' else ''}6"
    return Stretch(onset, onset + length, read_symbol(symbol), None)


def _is_home(chord: Chord, key: Key) -> bool:
    """A tonic chord of the key's own mode, with its root in the bass."""
    if chord.root != key.tonic or chord.bass is not None or chord.upper is not None:
        return False
    return chord.is_minor if key.mode == "minor" else chord.has(3)


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
