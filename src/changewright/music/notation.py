"""A sheet as notated for its reader: written pitch, note values, ties, beams, accidentals.

Both the page and the MusicXML export read from here, so that they can't disagree. Nothing in
this module draws: values are in quarters, pitches are written pitch.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from math import lcm

from changewright.music.accidentals import Spelled, accidentals
from changewright.music.bar import Bar, Quarters
from changewright.music.line import Note, Role
from changewright.music.notated import Cue, Mark, NotatedBar, NotatedChord, Notation
from changewright.music.promise import Lands
from changewright.music.repeats import fold
from changewright.music.rhythm import Grid, Value, beams, grid_of, values
from changewright.music.sheet import Sheet
from changewright.music.written import Hand
from changewright.theory.chord import Chord
from changewright.theory.pitch import Pitch
from changewright.theory.transposition import transpose_key_for, written_shift

__all__ = ["HINTS", "notate"]

HINTS = {Role.APPROACH: "a", Role.ENCLOSURE: "e"}
"""Letters under notes that have no degree: what they are there for."""


def notate(sheet: Sheet, *, answers: bool = False, folded: bool = True) -> Notation:
    """Write a sheet out for its instrument; with ``answers`` the blanks show the model answer.

    Passages that come back are written once, between repeat signs, unless ``folded`` is False.
    """
    up = written_shift(sheet.instrument, sheet.key)
    key = transpose_key_for(sheet.instrument, sheet.key)
    bars = tuple(_bars(sheet, Hand(up, key, sheet.spelling), answers))
    bars = fold(bars) if folded else bars
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
    ticks = _Ticks(sheet)
    origin = ticks.of(sheet.bars[0].start)
    notes, cues = _by_bar(sheet, origin, ticks), {} if answers else _cues(sheet)
    before: Chord | None = None
    held: Pitch | None = None
    for bar, following in zip(sheet.bars, (*sheet.bars[1:], None), strict=True):
        grid = grid_of(bar.meter, bar.length, tuple(c.onset - bar.start for c in bar.changes))
        shift, length = ticks.of(bar.start) - origin, ticks.of(bar.length)
        segments = _segments(shift, length, notes[bar.number], answers)
        unspelled = tuple(_marks(segments, grid, ticks))
        marks = tuple(_spelled(unspelled, bar, grid, hand, held))
        held = marks[-1].pitch if marks[-1].tied_to else None
        chords = []
        for change in bar.changes:
            chord = hand.chord(change.chord)
            chords.append(NotatedChord(change.onset - bar.start, chord, chord != before))
            before = chord
        closes = following is None or (bool(following.label) and bar.number != 0)
        yield NotatedBar(bar, marks, tuple(chords), cues.get(bar.number, ()), grid, closes)


@dataclass(frozen=True, slots=True)
class _Segment:
    """What fills [start, end) of a bar: a note, silence (note None), or an open stretch. The note
    may have begun before, or go on after: then it does not open, or close, here."""

    start: int
    end: int
    note: Note | None
    is_open: bool = False
    opens: bool = True
    closes: bool = True


class _Ticks:
    """The time of a sheet counted in whole ticks, ``unit`` to a quarter.

    PITFALL: to add or compare two fractions takes ten times as long as two whole numbers, and
    every note of a book is placed here.
    """

    def __init__(self, sheet: Sheet) -> None:
        times = {at for note in sheet.line.notes for at in (note.onset, note.duration)}
        times |= {at for bar in sheet.bars for at in (bar.start, bar.length)}
        self.unit = lcm(*(at.denominator for at in times))

    def of(self, at: Quarters) -> int:
        """How many ticks a time is."""
        numerator, denominator = at.as_integer_ratio()
        return numerator * (self.unit // denominator)

    def quarters(self, ticks: int) -> Quarters:
        """A number of ticks as exact time."""
        return _quarters(ticks, self.unit)


@lru_cache(maxsize=4096)
def _quarters(ticks: int, unit: int) -> Quarters:
    return Fraction(ticks, unit)


_Stretch = tuple[int, int, Note]
"""Start and end in ticks from the start of the line, and the note that sounds there."""


def _by_bar(sheet: Sheet, origin: int, ticks: _Ticks) -> dict[int, list[_Stretch]]:
    """The notes that sound in each bar, by the bar's number."""
    found: dict[int, list[_Stretch]] = {bar.number: [] for bar in sheet.bars}
    ends = [
        (ticks.of(bar.start) + ticks.of(bar.length) - origin, found[bar.number])
        for bar in sheet.bars
    ]
    place = 0
    for note in sheet.line.notes:
        start = ticks.of(note.onset)
        while start >= ends[place][0]:
            place += 1
        end, last = start + ticks.of(note.duration), place
        ends[last][1].append((start, end, note))
        while end > ends[last][0] and last + 1 < len(ends):
            last += 1
            ends[last][1].append((start, end, note))
    return found


def _segments(
    shift: int, length: int, notes: Sequence[_Stretch], answers: bool
) -> tuple[_Segment, ...]:
    """A bar ``shift`` ticks into the line as a row of segments without holes; touching silence
    joins an open stretch."""
    found: list[_Segment] = []
    at = 0
    for onset, stop, note in notes:
        start, end = max(onset - shift, at), min(stop - shift, length)
        if start > at:
            found.append(_Segment(at, start, None))
        opens, closes = start + shift == onset, end + shift == stop
        found.append(_Segment(start, end, note, note.blank and not answers, opens, closes))
        at = end
    if at < length:
        found.append(_Segment(at, length, None))
    return _opened(found)


def _opened(segments: list[_Segment]) -> tuple[_Segment, ...]:
    """Join open neighbours, and the silence between or beside them, into one stretch."""
    flags = [s.is_open for s in segments]
    if not any(flags):
        return tuple(segments)
    joined: list[_Segment] = []
    for index, segment in enumerate(segments):
        beside = flags[max(index - 1, 0) : index + 2]
        is_open = segment.is_open or (segment.note is None and any(beside))
        if is_open and joined and joined[-1].is_open:
            joined[-1] = replace(joined[-1], end=segment.end)
        else:
            joined.append(replace(segment, is_open=is_open, note=None if is_open else segment.note))
    return tuple(joined)


def _marks(segments: Sequence[_Segment], grid: Grid, ticks: _Ticks) -> Iterator[Mark]:
    edges = [
        (ticks.quarters(s.start), ticks.quarters(s.end), s.note is None and not s.is_open)
        for s in segments
    ]
    for segment, pieces in zip(segments, values(edges, grid), strict=True):
        last = len(pieces) - 1
        for place, (onset, duration, value) in enumerate(pieces):
            if segment.note is None:
                yield Mark(onset, duration, value, open=segment.is_open)
            else:
                opens, closes = segment.opens and place == 0, segment.closes and place == last
                yield _sounding(onset, duration, value, segment.note, opens, closes)


def _sounding(
    onset: Quarters, duration: Quarters, value: Value, note: Note, opens: bool, closes: bool
) -> Mark:
    """One sign of a note, that ``opens`` or ``closes`` it or stands between two ties."""
    return Mark(
        onset,
        duration,
        value,
        pitch=note.pitch,
        figure=note.degree if opens else None,
        hint=HINTS.get(note.role, "") if opens and note.degree is None else "",
        tied_from=not opens,
        tied_to=not closes,
        source=note,
    )


def _spelled(
    marks: tuple[Mark, ...], bar: Bar, grid: Grid, hand: Hand, held: Pitch | None
) -> Iterator[Mark]:
    """The marks at written pitch and on their beams; a note ``held`` from the bar before keeps its
    spelling."""
    notes = [(m.pitch, _chord_at(bar, m)) for m in marks if m.pitch is not None]
    pitches = iter(hand.bar(notes))
    strokes = tuple((m.onset, m.duration, m.value, m.pitch is not None) for m in marks)
    for mark, beam in zip(marks, beams(strokes, grid), strict=True):
        if mark.pitch is None:
            yield mark
            continue
        pitch = next(pitches)
        held_on = held is not None and mark.onset == 0
        yield replace(mark, pitch=held if held_on else pitch, beam=beam)


def _chord_at(bar: Bar, mark: Mark) -> Chord | None:
    if len(bar.changes) == 1:
        return bar.changes[0].chord
    at = bar.start + mark.onset
    return next((c.chord for c in bar.changes if c.onset <= at < c.end), None)


def _cues(sheet: Sheet) -> dict[int, tuple[Cue, ...]]:
    """The targets that the student must find himself, by bar: promised landings on blank notes."""
    origin = sheet.bars[0].start
    blanks = {n.onset + origin for n in sheet.line.notes if n.blank}
    found: dict[int, tuple[Cue, ...]] = {}
    for promise in sheet.promises if blanks else ():
        if isinstance(promise, Lands) and promise.at in blanks:
            bar = sheet.bar_at(promise.at)
            cue = Cue(promise.at - bar.start, promise.degrees)
            found[bar.number] = (*found.get(bar.number, ()), cue)
    return found
