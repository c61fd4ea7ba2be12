"""Check a finished sheet against what it promises and against what every sheet must keep.

This is the composer's examiner: it shares no code with the engine and reads the notes only.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from changewright.music.bar import Quarters
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
from changewright.theory.pitch import Degree

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
    found = [_placed(sheet, fault, None) for fault in _universal(sheet)]
    for promise in sheet.promises:
        examine = _EXAMINERS[type(promise)]
        found += [_placed(sheet, fault, promise) for fault in examine(sheet, promise)]
    return tuple(found)


def _placed(sheet: Sheet, fault: Fault, promise: Promise | None) -> Broken:
    at, what = fault
    bar = sheet.bar_at(at)
    return Broken(bar.number, bar.beat_of(at), what, promise)


def _universal(sheet: Sheet) -> Iterator[Fault]:
    """No overlap, nothing past the end, nothing the instrument can't play, every claimed degree
    really that degree, no double accidentals but a chord's own, no pitch spelled two ways in a
    bar."""
    start, end = sheet.bars[0].start, sheet.bars[-1].end
    whole = sheet.instrument.concert_range("professional")
    before = start
    for note in sheet.line.notes:
        if note.onset < before or note.end > end:
            yield note.onset, f"{note.pitch} overlaps or lies outside the chorus"
        before = note.end
        if note.pitch not in whole:
            yield note.onset, f"{note.pitch} can't be played on the {sheet.instrument.name}"
        yield from _claims(sheet, note)
    yield from _spellings(sheet)


def _claims(sheet: Sheet, note: Note) -> Iterator[Fault]:
    if note.degree is None:
        return
    root = _root_pc(sheet, note)
    if root is None or (note.pitch.midi - root - note.degree.pc) % 12:
        yield note.onset, f"{note.pitch} is not the {note.degree} of its chord"


def _root_pc(sheet: Sheet, note: Note) -> int | None:
    """The root that a note belongs to: of the chord it starts in, or, where it is held over a
    change from less than a beat before, of the chord to come."""
    now = sheet.change_at(note.onset)
    coming = sheet.change_at(now.end) if now.end < sheet.bars[-1].end else now
    anticipates = note.end > now.end and now.end - note.onset < 1
    root = coming.chord.root if anticipates else now.chord.root
    return None if root is None else root.pc


def _spellings(sheet: Sheet) -> Iterator[Fault]:
    for bar in sheet.bars:
        names: dict[int, str] = {}
        for note in sheet.line.notes:
            if bar.start <= note.onset < bar.end:
                told = names.setdefault(note.pitch.midi, str(note.pitch))
                if told != str(note.pitch):
                    yield note.onset, f"one pitch is written both {told} and {note.pitch}"


def _starting(sheet: Sheet, start: Quarters, end: Quarters) -> list[Note]:
    return [n for n in sheet.line.notes if start <= n.onset < end]


def _at(sheet: Sheet, at: Quarters) -> int | None:
    return next((i for i, n in enumerate(sheet.line.notes) if n.onset == at), None)


def _is_one_of(sheet: Sheet, note: Note, degrees: tuple[Degree, ...]) -> bool:
    root = _root_pc(sheet, note)
    return root is not None and (note.pitch.midi - root) % 12 in {d.pc for d in degrees}


def _listed(degrees: tuple[Degree, ...]) -> str:
    return ", ".join(map(str, degrees))


def _lands(sheet: Sheet, promise: Lands) -> Iterator[Fault]:
    index = _at(sheet, promise.at)
    if index is None:
        yield promise.at, f"no note starts here; promised: {_listed(promise.degrees)}"
    elif not _is_one_of(sheet, sheet.line.notes[index], promise.degrees):
        pitch = sheet.line.notes[index].pitch
        yield promise.at, f"{pitch} is none of the promised {_listed(promise.degrees)}"


def _steps(sheet: Sheet, promise: Steps) -> Iterator[Fault]:
    index = _at(sheet, promise.at)
    if not index:
        yield promise.at, "no note is entered by step here"
        return
    before, note = sheet.line.notes[index - 1 : index + 1]
    size = abs(note.pitch.midi - before.pitch.midi)
    if size > promise.most:
        yield promise.at, f"{note.pitch} is entered by {size} semitones, not {promise.most}"


def _stays(sheet: Sheet, promise: Stays) -> Iterator[Fault]:
    for note in _starting(sheet, promise.start, promise.end):
        if not _is_one_of(sheet, note, promise.degrees):
            yield note.onset, f"{note.pitch} is none of {_listed(promise.degrees)}"


def _holds(sheet: Sheet, promise: Holds) -> Iterator[Fault]:
    index = _at(sheet, promise.at)
    if index is None:
        yield promise.at, "no note starts here to be held"
    elif sheet.line.notes[index].duration < promise.least:
        yield promise.at, f"held for {sheet.line.notes[index].duration}, not {promise.least}"


def _rests(sheet: Sheet, promise: Rests) -> Iterator[Fault]:
    for note in sheet.line.notes:
        if note.onset < promise.end and note.end > promise.start:
            yield max(note.onset, promise.start), f"{note.pitch} sounds in a rest"


def _within(sheet: Sheet, promise: Within) -> Iterator[Fault]:
    for note in _starting(sheet, promise.start, promise.end):
        if not promise.low.midi <= note.pitch.midi <= promise.high.midi:
            yield note.onset, f"{note.pitch} lies outside {promise.low} to {promise.high}"


def _leaps(sheet: Sheet, promise: Leaps) -> Iterator[Fault]:
    for before, note in pairwise(_starting(sheet, promise.start, promise.end)):
        size = abs(note.pitch.midi - before.pitch.midi)
        if size > promise.most:
            yield note.onset, f"{before.pitch}-{note.pitch} leaps {size} semitones"


def _avoids(sheet: Sheet, promise: Avoids) -> Iterator[Fault]:
    avoided = {p.midi for p in promise.pitches}
    for note in _starting(sheet, promise.start, promise.end):
        if note.pitch.midi in avoided:
            yield note.onset, f"{note.pitch} is awkward"


def _climbs(sheet: Sheet, promise: Climbs) -> Iterator[Fault]:
    for before, note in pairwise(_starting(sheet, promise.start, promise.end)):
        rise = note.pitch.midi - before.pitch.midi
        if (rise if promise.up else -rise) <= 0:
            yield note.onset, f"{before.pitch}-{note.pitch} does not go {_way(promise.up)}"


def _way(up: bool) -> str:
    return "up" if up else "down"


def _keeps(sheet: Sheet, promise: Keeps) -> Iterator[Fault]:
    found = {n.onset for n in _starting(sheet, promise.start, promise.end)}
    for onset in sorted(found ^ set(promise.onsets)):
        yield onset, "a note too many" if onset in found else "a note of the rhythm is missing"


def _approached(sheet: Sheet, promise: Approached) -> Iterator[Fault]:
    index, count = _at(sheet, promise.at), len(promise.offsets)
    if index is None or index < count:
        yield promise.at, "no note is approached here"
        return
    target = sheet.line.notes[index]
    entry = sheet.line.notes[index - count : index]
    offsets = tuple(n.pitch.midi - target.pitch.midi for n in entry)
    if offsets != promise.offsets:
        yield promise.at, f"approached by {offsets} semitones, not {promise.offsets}"
    if any(a.end != b.onset for a, b in pairwise((*entry, target))):
        yield promise.at, "the approach is broken off before its target"


def _quotes(sheet: Sheet, promise: Quotes) -> Iterator[Fault]:
    notes = _starting(sheet, promise.at, promise.at + promise.onsets[-1] + 1)[: len(promise.onsets)]
    onsets = tuple(n.onset - promise.at for n in notes)
    shape = tuple(n.pitch.midi - notes[0].pitch.midi for n in notes)
    if (onsets, shape) != (promise.onsets, promise.shape):
        yield promise.at, "the phrase is not word for word"


def _echoes(sheet: Sheet, promise: Echoes) -> Iterator[Fault]:
    runs: list[list[Note]] = []
    for start in (promise.of, promise.at):
        index = _at(sheet, start)
        if index is None:
            yield promise.at, "no motif starts here"
            return
        runs.append(list(sheet.line.notes[index : index + promise.count]))
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


_EXAMINERS: dict[type, Callable[[Sheet, Any], Iterator[Fault]]] = {
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
