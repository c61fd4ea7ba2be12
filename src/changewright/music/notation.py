"""A sheet as notated for its reader: written pitch, note values, ties, beams, accidentals.

Both the page and the MusicXML export read from here, so that they can't disagree. Nothing in
this module draws: values are in quarters, pitches are written pitch.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from changewright.music.accidentals import Accidental, Spelled, accidentals
from changewright.music.bar import Bar, Meter, Quarters
from changewright.music.line import Note
from changewright.music.promise import Lands
from changewright.music.rhythm import Grid, Value, beams, grid_of, values
from changewright.music.sheet import Sheet
from changewright.music.written import Hand
from changewright.theory.chord import Chord
from changewright.theory.instrument import Clef
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Interval, Pitch
from changewright.theory.transposition import transpose_key_for, written_shift

__all__ = ["Cue", "Mark", "NotatedBar", "NotatedChord", "Notation", "notate"]


@dataclass(frozen=True, slots=True)
class Mark:
    """One sign on the staff: a note, a rest, or an open stretch left for the student.

    ``onset`` counts from the bar line. ``value`` says how it is written. ``figure`` is the degree
    printed under the note, only on the first of tied notes. ``beam`` numbers the beam within
    the bar that the note hangs on. ``pitch`` is None for rests and open stretches.
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
    """One bar for the reader. ``closes`` is True where a section ends."""

    bar: Bar
    marks: tuple[Mark, ...]
    chords: tuple[NotatedChord, ...]
    cues: tuple[Cue, ...]
    grid: Grid
    closes: bool = False

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


def notate(sheet: Sheet, *, answers: bool = False) -> Notation:
    """Write a sheet out for its instrument; with ``answers`` the blanks show the model answer."""
    up = written_shift(sheet.instrument, sheet.key)
    key = transpose_key_for(sheet.instrument, sheet.key)
    bars = tuple(_bars(sheet, Hand(up, key), answers))
    spelled = accidentals(
        key,
        [
            [Spelled(m.pitch, m.tied_from) if m.pitch is not None else None for m in b.marks]
            for b in bars
        ],
    )
    written = (
        replace(
            b,
            marks=tuple(
                m if a is None else replace(m, accidental=a)
                for m, a in zip(b.marks, row, strict=True)
            ),
        )
        for b, row in zip(bars, spelled, strict=True)
    )
    return Notation(sheet, key, sheet.instrument.clef, up, tuple(written))


def _bars(sheet: Sheet, hand: Hand, answers: bool) -> Iterator[NotatedBar]:
    origin = sheet.bars[0].start
    notes = _by_bar(sheet, origin)
    before: Chord | None = None
    held: Pitch | None = None
    for bar, following in zip(sheet.bars, (*sheet.bars[1:], None), strict=True):
        grid = grid_of(bar.meter, bar.length, tuple(c.onset - bar.start for c in bar.changes))
        segments = _segments(bar, origin, notes[bar.number], answers)
        unspelled = tuple(_marks(segments, grid, bar.start - origin))
        marks = _beamed(tuple(_spelled(unspelled, bar, hand, held)), grid)
        held = marks[-1].pitch if marks[-1].tied_to else None
        chords = []
        for change in bar.changes:
            chord = hand.chord(change.chord)
            chords.append(NotatedChord(change.onset - bar.start, chord, chord != before))
            before = chord
        closes = following is None or (bool(following.label) and bar.number != 0)
        cues = () if answers else tuple(_cues(sheet, bar, origin))
        yield NotatedBar(bar, marks, tuple(chords), cues, grid, closes)


@dataclass(frozen=True, slots=True)
class _Segment:
    """What fills [start, end) of a bar: a note, silence (note None), or an open stretch."""

    start: Quarters
    end: Quarters
    note: Note | None
    is_open: bool = False


def _by_bar(sheet: Sheet, origin: Quarters) -> dict[int, list[Note]]:
    """The notes that sound in each bar, by the bar's number."""
    found: dict[int, list[Note]] = {bar.number: [] for bar in sheet.bars}
    bars = iter(sheet.bars)
    bar = next(bars)
    for note in sheet.line.notes:
        while note.onset + origin >= bar.end:
            bar = next(bars)
        found[bar.number].append(note)
        end = note.end + origin
        if end > bar.end:
            for later in (b for b in sheet.bars if bar.end <= b.start < end):
                found[later.number].append(note)
    return found


def _segments(
    bar: Bar, origin: Quarters, notes: Sequence[Note], answers: bool
) -> tuple[_Segment, ...]:
    """The bar as a row of segments without holes; touching silence joins an open stretch."""
    shift = bar.start - origin
    found: list[_Segment] = []
    at = Fraction(0)
    for note in notes:
        start, end = note.onset - shift, note.end - shift
        start, end = max(start, Fraction(0)), min(end, bar.length)
        if start > at:
            found.append(_Segment(at, start, None))
        found.append(_Segment(start, end, note, note.blank and not answers))
        at = end
    if at < bar.length:
        found.append(_Segment(at, bar.length, None))
    return _opened(found)


def _opened(segments: list[_Segment]) -> tuple[_Segment, ...]:
    """Join open neighbours, and the silence between or beside them, into one stretch."""
    joined: list[_Segment] = []
    flags = [s.is_open for s in segments]
    for index, segment in enumerate(segments):
        beside = flags[max(index - 1, 0) : index + 2]
        is_open = segment.is_open or (segment.note is None and any(beside))
        if is_open and joined and joined[-1].is_open:
            joined[-1] = replace(joined[-1], end=segment.end)
        else:
            joined.append(replace(segment, is_open=is_open, note=None if is_open else segment.note))
    return tuple(joined)


def _marks(segments: Sequence[_Segment], grid: Grid, shift: Quarters) -> Iterator[Mark]:
    edges = [(s.start, s.end, s.note is None and not s.is_open) for s in segments]
    for segment, pieces in zip(segments, values(edges, grid), strict=True):
        for onset, duration, value in pieces:
            mark = Mark(onset, duration, value, open=segment.is_open)
            yield mark if segment.note is None else _sounding(mark, segment.note, shift)


def _sounding(mark: Mark, note: Note, shift: Quarters) -> Mark:
    first, last = mark.onset + shift == note.onset, mark.end + shift == note.end
    return replace(
        mark,
        pitch=note.pitch,
        figure=note.degree if first else None,
        tied_from=not first,
        tied_to=not last,
        source=note,
    )


def _spelled(marks: tuple[Mark, ...], bar: Bar, hand: Hand, held: Pitch | None) -> Iterator[Mark]:
    """The marks at written pitch; a note ``held`` from the bar before keeps its spelling."""
    notes = [m for m in marks if m.pitch is not None]
    chords = [_chord_at(bar, m) for m in notes]
    pitches = iter(hand.bar([(m.pitch, c) for m, c in zip(notes, chords, strict=True) if m.pitch]))
    for mark in marks:
        if mark.pitch is None:
            yield mark
            continue
        pitch = next(pitches)
        yield replace(mark, pitch=held if held is not None and mark.onset == 0 else pitch)


def _beamed(marks: tuple[Mark, ...], grid: Grid) -> tuple[Mark, ...]:
    strokes = tuple((m.onset, m.duration, m.value, m.pitch is not None) for m in marks)
    numbers = beams(strokes, grid)
    return tuple(
        m if n is None else replace(m, beam=n) for m, n in zip(marks, numbers, strict=True)
    )


def _chord_at(bar: Bar, mark: Mark) -> Chord | None:
    at = bar.start + mark.onset
    return next((c.chord for c in bar.changes if c.onset <= at < c.end), None)


def _cues(sheet: Sheet, bar: Bar, origin: Quarters) -> Iterator[Cue]:
    """The targets that the student must find himself: promised landings on blank notes."""
    blanks = {n.onset + origin for n in sheet.line.notes if n.blank}
    for promise in sheet.promises:
        if (
            isinstance(promise, Lands)
            and promise.at in blanks
            and bar.start <= promise.at < bar.end
        ):
            yield Cue(promise.at - bar.start, promise.degrees)
