"""The values of a written-out exercise: signs, symbols, bars. All pitches are written pitch."""

from dataclasses import dataclass

from changewright.music.accidentals import Accidental
from changewright.music.bar import Bar, Meter, Quarters
from changewright.music.line import Note
from changewright.music.promise import Quotes
from changewright.music.rhythm import Grid, Value
from changewright.music.sheet import Sheet
from changewright.theory.chord import Chord
from changewright.theory.instrument import Clef
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Interval, Pitch

__all__ = ["Cue", "Mark", "NotatedBar", "NotatedChord", "Notation", "Stacked"]


@dataclass(frozen=True, slots=True)
class Stacked:
    """A further note of a chord, on the stem of the lowest."""

    pitch: Pitch
    accidental: Accidental | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """One sign on the staff: a note, a rest, or an open stretch left for the student.

    ``onset`` counts from the bar line. ``value`` says how it is written. ``figure`` is the degree
    printed under the note, only on the first of tied notes. ``beam`` numbers the beam within
    the bar that the note hangs on. ``pitch`` is None for rests and open stretches. ``hint`` is
    a letter for what a note outside the chord's degrees is there for. ``above`` are the other
    notes of a chord, upwards.
    """

    onset: Quarters
    duration: Quarters
    value: Value
    pitch: Pitch | None = None
    accidental: Accidental | None = None
    figure: Degree | None = None
    tied_from: bool = False
    tied_to: bool = False
    open: bool = False
    beam: int | None = None
    source: Note | None = None
    hint: str = ""
    above: tuple[Stacked, ...] = ()

    @property
    def end(self) -> Quarters:
        """Where the sign stops, from the bar line."""
        return self.onset + self.duration

    @property
    def is_rest(self) -> bool:
        """True for a rest that is drawn."""
        return self.pitch is None and not self.open


@dataclass(frozen=True, slots=True)
class NotatedChord:
    """A chord symbol at written pitch, ``onset`` quarters after the bar line. ``is_new`` is
    False where the chord only goes on from the bar before."""

    onset: Quarters
    chord: Chord
    is_new: bool


@dataclass(frozen=True, slots=True)
class Cue:
    """A target printed in an open stretch: the degrees to land on, without the note."""

    onset: Quarters
    degrees: tuple[Degree, ...]


@dataclass(frozen=True, slots=True)
class NotatedBar:
    """One bar for the reader. ``closes`` is True where a section ends. A passage that is played
    ``times`` times begins where ``opens_repeat`` is True and ends where ``times`` is set."""

    bar: Bar
    marks: tuple[Mark, ...]
    chords: tuple[NotatedChord, ...]
    cues: tuple[Cue, ...]
    grid: Grid
    closes: bool = False
    opens_repeat: bool = False
    times: int = 1

    @property
    def is_open(self) -> bool:
        """True where the whole bar is left to the student."""
        return all(mark.open for mark in self.marks)


@dataclass(frozen=True, slots=True)
class Notation:
    """A whole exercise for one reader: written key, clef, and the interval it was moved up by."""

    sheet: Sheet
    key: Key
    clef: Clef
    up: Interval
    bars: tuple[NotatedBar, ...]

    @property
    def meter(self) -> Meter:
        """The meter at the start."""
        return self.bars[0].bar.meter

    @property
    def phrases(self) -> tuple[tuple[Quarters, ...], ...]:
        """The onsets of each phrase that the sheet quotes, as its line counts them."""
        origin = self.sheet.bars[0].start
        return tuple(
            tuple(promise.at - origin + onset for onset in promise.onsets)
            for promise in self.sheet.promises
            if isinstance(promise, Quotes)
        )
