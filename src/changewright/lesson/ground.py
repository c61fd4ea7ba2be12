"""The ground that a family builds on: where chords stand, how long, and what the player may use."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from changewright.lesson.level import Level
from changewright.music.bar import Bar, Quarters
from changewright.music.line import Line, Note
from changewright.music.promise import Avoids, Promise, Within
from changewright.reading.model import ReadChange, Reading
from changewright.theory.chord import Chord
from changewright.theory.instrument import Instrument, Span
from changewright.theory.pitch import Degree, Name, Pitch
from changewright.theory.scale import Scale
from changewright.theory.spelling import Manner

if TYPE_CHECKING:
    from changewright.lesson.phrase import Phrase

__all__ = ["Ground", "Patch", "degree_over", "name_at", "patches_of", "tone_at"]


@dataclass(frozen=True, slots=True)
class Patch:
    """One chord inside one bar, equal neighbours merged.

    ``nth`` counts the bars of a chord that lasts: 0 where the chord is new. ``more`` tells
    whether it goes on into the next bar. ``stay`` is its whole length in bars. ``tones`` are
    the plain chord tones, ``scale`` those and the rest of the first-choice scale, in ascending
    order. Patches with the same ``code`` have the same chord and scale.
    """

    bar: Bar
    start: Quarters
    end: Quarters
    read: ReadChange
    nth: int
    more: bool
    stay: int
    code: int
    tones: tuple[Degree, ...]
    scale: tuple[Degree, ...]

    @property
    def chord(self) -> Chord:
        """The chord."""
        return self.read.change.chord

    @property
    def length(self) -> Quarters:
        """Quarters."""
        return self.end - self.start

    @property
    def beat(self) -> str:
        """Where it starts, as people say it."""
        return self.bar.beat_of(self.start)


@dataclass(frozen=True)
class Ground:
    """A chorus laid out for a player at a level.

    ``span`` is the range at concert pitch; ``fallback`` names what a family had to give up for
    a small range ('' for nothing); ``variant`` is the form of the family that was asked for;
    ``spelling`` is the manner in which accidentals are written; ``phrases`` are a teacher's own,
    ``melody`` is the chart's; ``crossings`` are pairs of MIDI numbers not to be crossed quickly;
    ``conceded`` are awkward notes without which there was no line.
    """

    reading: Reading
    level: Level
    instrument: Instrument
    span: Span
    awkward: tuple[Pitch, ...]
    tempo_bpm: int
    breath_s: float | None = None
    variant: str = ""
    fallback: str = ""
    spelling: Manner = "usual"
    phrases: tuple["Phrase", ...] = ()
    melody: Line | None = None
    crossings: tuple[tuple[int, int], ...] = ()
    conceded: tuple[Pitch, ...] = ()

    @cached_property
    def patches(self) -> tuple[Patch, ...]:
        """The chords bar by bar; N.C. is left out."""
        return patches_of(self.reading)

    @cached_property
    def changes(self) -> tuple[Patch, ...]:
        """Only the patches where the chord is new."""
        return tuple(p for p in self.patches if p.nth == 0)

    @property
    def start(self) -> Quarters:
        """Where the chorus starts."""
        return self.reading.bars[0].start

    @property
    def end(self) -> Quarters:
        """Where the chorus ends."""
        return self.reading.bars[-1].end

    @property
    def middle(self) -> int:
        """The MIDI number in the middle of the range."""
        return (self.span.low.midi + self.span.high.midi) // 2

    @property
    def bars_a_breath(self) -> int:
        """Four bars where the player's breath lasts for them at this tempo, else two.

        Source: common practice, no source; phrases of professionals last 2.4 s, one in ten more
        than 6.1 s (aggregate figures of the Weimar Jazz Database, ODbL).
        """
        seconds = float(self.reading.bars[0].length) * 60 / self.tempo_bpm
        return 4 if self.breath_s is None or 4 * seconds <= self.breath_s else 2

    @cached_property
    def reach(self) -> range:
        """MIDI numbers that can be written at all: the range and, for refusals that name what
        lies just outside, a fifth round it."""
        whole = self.instrument.concert_range("professional")
        low = min(self.span.low.midi, max(whole.low.midi, self.span.low.midi - 7))
        high = max(self.span.high.midi, min(whole.high.midi, self.span.high.midi + 7))
        return range(low, high + 1)

    @cached_property
    def awkward_midi(self) -> frozenset[int]:
        """The awkward pitches as MIDI numbers."""
        return frozenset(p.midi for p in self.awkward)

    def patch_at(self, onset: Quarters) -> Patch | None:
        """The patch in force at an onset, None in N.C."""
        index = bisect_right(self._patch_starts, float(onset)) - 1
        found = self.patches[max(0, index)]
        return found if found.start <= onset < found.end else None

    # floats, because they are compared for every note; starts are multiples of a beat, so exact
    @cached_property
    def _patch_starts(self) -> list[float]:
        return [float(p.start) for p in self.patches]

    @cached_property
    def _bar_starts(self) -> list[float]:
        return [float(b.start) for b in self.reading.bars]

    def bar_at(self, onset: Quarters) -> Bar:
        """The bar in which an onset lies."""
        return self.reading.bars[max(0, bisect_right(self._bar_starts, float(onset)) - 1)]

    def by_patch(self, notes: Sequence[Note]) -> list[tuple[Patch, list[Note]]]:
        """The notes, in order, under the patch that each starts in."""
        found: list[tuple[Patch, list[Note]]] = [(patch, []) for patch in self.patches]
        index = 0
        for note in notes:
            while index + 1 < len(found) and found[index + 1][0].start <= note.onset:
                index += 1
            found[index][1].append(note)
        return found

    def universal(self) -> tuple[Promise, ...]:
        """What every exercise promises: the range, and no awkward note."""
        within = Within(self.start, self.end, self.span.low, self.span.high)
        if not self.awkward:
            return (within,)
        return within, Avoids(self.start, self.end, self.awkward)


Placed = tuple[Bar, Quarters, Quarters, ReadChange]


def _merged(reading: Reading) -> Iterator[Placed]:
    changes = iter(reading.changes)
    for bar in reading.bars:
        merged: list[tuple[Quarters, Quarters, ReadChange]] = []
        for change in bar.changes:
            read = next(changes)
            if merged and merged[-1][2].change.chord == change.chord:
                merged[-1] = (merged[-1][0], change.end, merged[-1][2])
            else:
                merged.append((change.onset, change.end, read))
        for start, end, read in merged:
            yield bar, start, end, read


def patches_of(reading: Reading) -> tuple[Patch, ...]:
    """The chords of a reading bar by bar, equal neighbours merged; N.C. is left out."""
    return tuple(_patches(reading))


def _patches(reading: Reading) -> Iterator[Patch]:
    placed = [p for p in _merged(reading) if not p[3].change.chord.is_silent]
    codes: dict[object, tuple[int, tuple[Degree, ...], tuple[Degree, ...]]] = {}
    for run in _runs(placed):
        chord, scales = run[0][3].change.chord, run[0][3].scales[:1]
        key = (chord, scales)
        if key not in codes:
            scale = _scale_degrees(chord, scales[0].scale) if scales else chord.four
            codes[key] = len(codes), chord.four, scale
        for nth, (bar, start, end, read) in enumerate(run):
            more = nth + 1 < len(run)
            yield Patch(bar, start, end, read, nth, more, len(run), *codes[key])


def _runs(placed: Sequence[Placed]) -> list[list[Placed]]:
    runs: list[list[Placed]] = []
    for one in placed:
        last = runs[-1][-1] if runs else None
        if last and last[3].change.chord == one[3].change.chord and last[2] == one[1]:
            runs[-1].append(one)
        else:
            runs.append([one])
    return runs


def _scale_degrees(chord: Chord, scale: Scale) -> tuple[Degree, ...]:
    """Chord tones and scale as degrees over the chord's root."""
    if chord.root is None:
        return ()
    found = {d.pc: d for d in chord.four}
    for name in scale.tones:
        degree = degree_over(chord.root.fifths, name.fifths)
        found.setdefault(degree.pc, degree)
    return tuple(sorted(found.values(), key=lambda d: d.pc))


def degree_over(root: int, name: int) -> Degree:
    """The degree that a spelled name is over a root."""
    fifths = name - root
    number = (4 * fifths) % 7 + 1
    plain = Degree(number).interval.fifths
    return Degree(number, (fifths - plain) // 7)


def name_at(name: Name, midi: int) -> Pitch:
    """The pitch of a spelled name at a MIDI number of its pitch class.

    >>> str(name_at(Name.parse("Cb"), 59))
    'Cb4'
    """
    octaves, rest = divmod(midi - 12 - 7 * name.fifths, 12)
    if rest:
        raise ValueError(f"{name} does not sound as MIDI note {midi}")
    return Pitch(name.fifths, octaves)


def tone_at(chord: Chord, degree: Degree, midi: int) -> Pitch:
    """A chord's degree, spelled from the root, at a MIDI number."""
    return name_at(chord.tone(degree), midi)
