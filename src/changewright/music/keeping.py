"""Check a finished sheet against what it promises and against what every sheet must keep.

This is the composer's examiner: it shares no code with the engine and reads the notes only.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from changewright.music.bar import Bar, Change, Quarters
from changewright.music.line import Note
from changewright.music.promise import (
    Approached,
    Avoids,
    Climbs,
    Echoes,
    Holds,
    Keeps,
    Lands,
    Leaps,
    Promise,
    Quotes,
    Rests,
    Stays,
    Steps,
    Within,
)
from changewright.music.sheet import Sheet
from changewright.theory.pitch import Degree, Pitch

__all__ = ["Broken", "broken"]


@dataclass(frozen=True, slots=True)
class Broken:
    """One fault: where it is, what is wrong, and the promise that it breaks (None for a rule
    that holds for every sheet)."""

    bar: int
    beat: str
    what: str
    promise: Promise | None = None

    def __str__(self) -> str:
        return f"bar {self.bar}, beat {self.beat}: {self.what}"


Fault = tuple[Quarters, str]


def broken(sheet: Sheet) -> tuple[Broken, ...]:
    """Every broken promise and rule of a sheet, in the order of its promises; empty is good."""
    exam = _Exam(sheet)
    found = [_placed(exam, fault, None) for fault in _universal(exam)]
    for promise in sheet.promises:
        examine = _EXAMINERS[type(promise)]
        found += [_placed(exam, fault, promise) for fault in examine(exam, promise)]
    return tuple(found)


class _Exam:
    """A sheet laid out to be looked up quickly: its notes by onset, and each note's root."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.notes = sheet.line.notes
        self.onsets = [n.onset for n in self.notes]  # a line's notes are in order
        self.bars = [b.start for b in sheet.bars]
        self.end = sheet.bars[-1].end
        self._roots: dict[int, int | None] = {}

    def bar_at(self, at: Quarters) -> Bar:
        """The bar in which an onset lies, the last one for anything outside."""
        return self.sheet.bars[bisect_right(self.bars, at) - 1]

    def at(self, at: Quarters) -> int | None:
        """Which note starts at an onset."""
        index = bisect_left(self.onsets, at)
        return index if index < len(self.onsets) and self.onsets[index] == at else None

    def starting(self, start: Quarters, end: Quarters) -> range:
        """The notes that start in [start, end)."""
        return range(bisect_left(self.onsets, start), bisect_left(self.onsets, end))

    def between(self, start: Quarters, end: Quarters) -> tuple[Note, ...]:
        """The same, as notes."""
        found = self.starting(start, end)
        return self.notes[found.start : found.stop]

    def root(self, index: int) -> int | None:
        """The root that a note belongs to: of the chord it starts in, or, where it is held over a
        change from less than a beat before, of the chord to come."""
        if index not in self._roots:
            self._roots[index] = self._root(self.notes[index])
        return self._roots[index]

    def _root(self, note: Note) -> int | None:
        change = self._change_at(note.onset)
        after = change.end
        if note.end > after and after - note.onset < 1 and after < self.end:
            change = self._change_at(after)
        root = change.chord.root
        return None if root is None else root.pc

    def _change_at(self, at: Quarters) -> Change:
        changes = self.bar_at(at).changes
        if len(changes) == 1:
            return changes[0]
        return next((c for c in changes if c.onset <= at < c.end), changes[-1])


def _placed(exam: _Exam, fault: Fault, promise: Promise | None) -> Broken:
    at, what = fault
    bar = exam.bar_at(at)
    return Broken(bar.number, bar.beat_of(at), what, promise)


def _universal(exam: _Exam) -> Iterator[Fault]:
    """No overlap, nothing past the end, nothing the instrument can't play, every claimed degree
    really that degree, no double accidentals but a chord's own, no pitch spelled two ways in a
    bar."""
    sheet, end = exam.sheet, exam.end
    whole = sheet.instrument.concert_range("professional")
    before = sheet.bars[0].start
    for index, note in enumerate(exam.notes):
        if note.onset < before or note.end > end:
            yield note.onset, f"{note.pitch} overlaps or lies outside the chorus"
        before = note.end
        if note.pitch not in whole:
            yield note.onset, f"{note.pitch} can't be played on the {sheet.instrument.name}"
        yield from _claims(exam, index)
    yield from _spellings(exam)


def _claims(exam: _Exam, index: int) -> Iterator[Fault]:
    note = exam.notes[index]
    if note.degree is None:
        return
    root = exam.root(index)
    if root is None or (note.pitch.midi - root - note.degree.pc) % 12:
        yield note.onset, f"{note.pitch} is not the {note.degree} of its chord"


def _spellings(exam: _Exam) -> Iterator[Fault]:
    for bar in exam.sheet.bars:
        names: dict[int, Pitch] = {}
        for note in exam.between(bar.start, bar.end):
            told = names.setdefault(note.pitch.midi, note.pitch)
            if told != note.pitch:
                yield note.onset, f"one pitch is written both {told} and {note.pitch}"


def _is_one_of(exam: _Exam, index: int, degrees: tuple[Degree, ...]) -> bool:
    root = exam.root(index)
    midi = exam.notes[index].pitch.midi
    return root is not None and any((midi - root - d.pc) % 12 == 0 for d in degrees)


def _listed(degrees: tuple[Degree, ...]) -> str:
    return ", ".join(map(str, degrees))


def _lands(exam: _Exam, promise: Lands) -> Iterator[Fault]:
    index = exam.at(promise.at)
    if index is None:
        yield promise.at, f"no note starts here; promised: {_listed(promise.degrees)}"
    elif not _is_one_of(exam, index, promise.degrees):
        pitch = exam.notes[index].pitch
        yield promise.at, f"{pitch} is none of the promised {_listed(promise.degrees)}"


def _steps(exam: _Exam, promise: Steps) -> Iterator[Fault]:
    index = exam.at(promise.at)
    if not index:
        yield promise.at, "no note is entered by step here"
        return
    before, note = exam.notes[index - 1 : index + 1]
    size = abs(note.pitch.midi - before.pitch.midi)
    if size > promise.most:
        yield promise.at, f"{note.pitch} is entered by {size} semitones, not {promise.most}"


def _stays(exam: _Exam, promise: Stays) -> Iterator[Fault]:
    for index in exam.starting(promise.start, promise.end):
        if not _is_one_of(exam, index, promise.degrees):
            note = exam.notes[index]
            yield note.onset, f"{note.pitch} is none of {_listed(promise.degrees)}"


def _holds(exam: _Exam, promise: Holds) -> Iterator[Fault]:
    index = exam.at(promise.at)
    if index is None:
        yield promise.at, "no note starts here to be held"
    elif exam.notes[index].duration < promise.least:
        yield promise.at, f"held for {exam.notes[index].duration}, not {promise.least}"


def _rests(exam: _Exam, promise: Rests) -> Iterator[Fault]:
    for note in exam.notes:
        if note.onset < promise.end and note.end > promise.start:
            yield max(note.onset, promise.start), f"{note.pitch} sounds in a rest"


def _within(exam: _Exam, promise: Within) -> Iterator[Fault]:
    for note in exam.between(promise.start, promise.end):
        if not promise.low.midi <= note.pitch.midi <= promise.high.midi:
            yield note.onset, f"{note.pitch} lies outside {promise.low} to {promise.high}"


def _leaps(exam: _Exam, promise: Leaps) -> Iterator[Fault]:
    for before, note in pairwise(exam.between(promise.start, promise.end)):
        size = abs(note.pitch.midi - before.pitch.midi)
        if size > promise.most:
            yield note.onset, f"{before.pitch}-{note.pitch} leaps {size} semitones"


def _avoids(exam: _Exam, promise: Avoids) -> Iterator[Fault]:
    avoided = {p.midi for p in promise.pitches}
    for note in exam.between(promise.start, promise.end):
        if note.pitch.midi in avoided:
            yield note.onset, f"{note.pitch} is awkward"


def _climbs(exam: _Exam, promise: Climbs) -> Iterator[Fault]:
    for before, note in pairwise(exam.between(promise.start, promise.end)):
        rise = note.pitch.midi - before.pitch.midi
        if (rise if promise.up else -rise) <= 0:
            yield note.onset, f"{before.pitch}-{note.pitch} does not go {_way(promise.up)}"


def _way(up: bool) -> str:
    return "up" if up else "down"


def _keeps(exam: _Exam, promise: Keeps) -> Iterator[Fault]:
    found = {n.onset for n in exam.between(promise.start, promise.end)}
    for onset in sorted(found ^ set(promise.onsets)):
        yield onset, "a note too many" if onset in found else "a note of the rhythm is missing"


def _approached(exam: _Exam, promise: Approached) -> Iterator[Fault]:
    index, count = exam.at(promise.at), len(promise.offsets)
    if index is None or index < count:
        yield promise.at, "no note is approached here"
        return
    target = exam.notes[index]
    entry = exam.notes[index - count : index]
    offsets = tuple(n.pitch.midi - target.pitch.midi for n in entry)
    if offsets != promise.offsets:
        yield promise.at, f"approached by {offsets} semitones, not {promise.offsets}"
    if any(a.end != b.onset for a, b in pairwise((*entry, target))):
        yield promise.at, "the approach is broken off before its target"


def _quotes(exam: _Exam, promise: Quotes) -> Iterator[Fault]:
    notes = exam.between(promise.at, promise.at + promise.onsets[-1] + 1)[: len(promise.onsets)]
    onsets = tuple(n.onset - promise.at for n in notes)
    shape = tuple(n.pitch.midi - notes[0].pitch.midi for n in notes)
    if (onsets, shape) != (promise.onsets, promise.shape):
        yield promise.at, "the phrase is not word for word"


def _echoes(exam: _Exam, promise: Echoes) -> Iterator[Fault]:
    runs: list[list[Note]] = []
    for start in (promise.of, promise.at):
        index = exam.at(start)
        if index is None:
            yield promise.at, "no motif starts here"
            return
        runs.append(list(exam.notes[index : index + promise.count]))
    model, coming = runs
    if [n.onset - promise.of for n in model] != [n.onset - promise.at for n in coming]:
        yield promise.at, "the motif comes back in another rhythm"
        return
    moves = list(zip(_ways(model), _ways(coming), strict=True))[:-1]
    if moves != [(a, a) for a, _ in moves] and moves != [(a, -a) for a, _ in moves]:
        yield promise.at, "the motif can't be told by how it rises and falls"


def _ways(notes: list[Note]) -> list[int]:
    """1 for each move up, -1 for one down, 0 for a repeated note."""
    heights = [n.pitch.midi for n in notes]
    return [(b > a) - (b < a) for a, b in pairwise(heights)]


_EXAMINERS: dict[type, Callable[[_Exam, Any], Iterator[Fault]]] = {
    Lands: _lands,
    Steps: _steps,
    Stays: _stays,
    Holds: _holds,
    Rests: _rests,
    Within: _within,
    Leaps: _leaps,
    Avoids: _avoids,
    Climbs: _climbs,
    Keeps: _keeps,
    Approached: _approached,
    Quotes: _quotes,
    Echoes: _echoes,
}
