"""Write a bar as note values for MusicXML, with beams and tuplet brackets, whatever its lengths."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from changewright.music.bar import Quarters
from changewright.music.rhythm import Grid, Piece, Value, beams, values

__all__ = ["NoteValue", "note_values"]

_TYPES = (
    ("whole", Fraction(4)),
    ("half", Fraction(2)),
    ("quarter", Fraction(1)),
    ("eighth", Fraction(1, 2)),
    ("16th", Fraction(1, 4)),
    ("32nd", Fraction(1, 8)),
    ("64th", Fraction(1, 16)),
    ("128th", Fraction(1, 32)),
    ("256th", Fraction(1, 64)),
)
_NAMES = {size: name for name, size in _TYPES}

Stretch = tuple[Quarters, Quarters, bool]
"""Start and end from the bar line, and whether it is a rest."""


@dataclass(frozen=True, slots=True)
class NoteValue:
    """One written value: its sounding duration, type, dots, and the tuplet ratio
    (``actual`` in the time of ``normal``).

    ``type`` is empty for a rest over the whole bar and for lengths that no note value can write.
    ``beams`` says begin, continue or end for each beam from the first; ``bracket`` is start or
    stop where a tuplet begins or ends.
    """

    duration: Quarters
    type: str = ""
    dots: int = 0
    actual: int = 1
    normal: int = 1
    beams: tuple[str, ...] = ()
    bracket: str = ""


@dataclass(frozen=True, slots=True)
class _Mark:
    """A value on its way: which stretch it belongs to, and whether it sounds on the grid."""

    stretch: int
    onset: Quarters
    duration: Quarters
    value: Value
    sounds: bool
    written: NoteValue
    beam: int | None = None


def note_values(stretches: Sequence[Stretch], grid: Grid) -> list[list[NoteValue]]:
    """Write stretches that tile a bar, each as one or more values."""
    marks = list(_marks(stretches, grid))
    strokes = tuple((mark.onset, mark.duration, mark.value, mark.sounds) for mark in marks)
    numbered = zip(marks, beams(strokes, grid), strict=True)
    marks = [replace(mark, beam=beam) for mark, beam in numbered]
    written = list(_bracketed(marks, _beamed(marks)))
    return [
        [value for mark, value in zip(marks, written, strict=True) if mark.stretch == index]
        for index in range(len(stretches))
    ]


def _marks(stretches: Sequence[Stretch], grid: Grid) -> Iterator[_Mark]:
    pieces = values(stretches, grid)
    for index, ((start, end, is_rest), row) in enumerate(zip(stretches, pieces, strict=True)):
        if all(map(_is_exact, row)):
            for onset, duration, value in row:
                yield _Mark(index, onset, duration, value, not is_rest, _plain(duration, value))
        else:
            onset = start
            for own in _decompose(end - start):  # not beamed: no grid holds it
                yield _Mark(index, onset, own.duration, Value(Fraction(1)), False, own)
                onset += own.duration


def _is_exact(piece: Piece) -> bool:
    _, duration, value = piece
    shrink = 1 if value.triplet is None else Fraction(2, 3)
    return value.whole_bar or (duration == value.written * shrink and value.base in _NAMES)


def _plain(duration: Quarters, value: Value) -> NoteValue:
    if value.whole_bar:
        return NoteValue(duration)
    actual, normal = (1, 1) if value.triplet is None else (3, 2)
    return NoteValue(duration, _NAMES[value.base], value.dots, actual, normal)


def _decompose(length: Quarters) -> Iterator[NoteValue]:
    """Greedy binary values inside one tuplet ratio: five, six, seven ... in the time of four."""
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    normal = 1 << (odd.bit_length() - 1)
    left = length * odd / normal
    while left > 0:
        fitting = next(((name, size) for name, size in _TYPES if size <= left), None)
        if fitting is None:
            yield NoteValue(left * normal / odd)
            return
        name, size = fitting
        left -= size
        yield NoteValue(size * normal / odd, name, 0, odd, normal)


def _beamed(marks: Sequence[_Mark]) -> list[NoteValue]:
    """The values with their beams: one for eighths, one more for each halving."""
    return [
        replace(mark.written, beams=tuple(_beam_words(marks, at))) if mark.beam is not None
        else mark.written
        for at, mark in enumerate(marks)
    ]  # fmt: skip


def _beam_words(marks: Sequence[_Mark], at: int) -> Iterator[str]:
    own = marks[at]
    before = marks[at - 1] if at and marks[at - 1].beam == own.beam else None
    after = marks[at + 1] if at + 1 < len(marks) and marks[at + 1].beam == own.beam else None
    for level in range(1, _levels(own) + 1):
        joins_before = before is not None and _levels(before) >= level
        joins_after = after is not None and _levels(after) >= level
        if joins_before:
            yield "continue" if joins_after else "end"
        elif joins_after:
            yield "begin"
        else:
            yield "backward hook" if before is not None else "forward hook"


def _levels(mark: _Mark) -> int:
    return {Fraction(1, 2): 1, Fraction(1, 4): 2, Fraction(1, 8): 3}.get(mark.value.base, 4)


def _bracketed(marks: Sequence[_Mark], written: Sequence[NoteValue]) -> Iterator[NoteValue]:
    """The values with a bracket around each tuplet of two or more."""

    def tuplet(at: int) -> tuple[int | None, int]:
        return marks[at].value.triplet, written[at].actual

    for (_, actual), group in groupby(range(len(marks)), key=tuplet):
        row = [written[at] for at in group]
        if actual != 1 and len(row) > 1:
            row[0] = replace(row[0], bracket="start")
            row[-1] = replace(row[-1], bracket="stop")
        yield from row
