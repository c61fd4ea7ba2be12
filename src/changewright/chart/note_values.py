"""Write a length as note values for MusicXML, whatever its denominator."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from changewright.music.bar import Quarters
from changewright.music.rhythm import Grid, Piece, values

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


@dataclass(frozen=True, slots=True)
class NoteValue:
    """One written value: its sounding duration, type, dots, and the tuplet ratio
    (``actual`` in the time of ``normal``). ``type`` is empty for a rest over the whole bar and
    for lengths that no note value can write."""

    duration: Quarters
    type: str = ""
    dots: int = 0
    actual: int = 1
    normal: int = 1


def note_values(
    edges: Sequence[tuple[Quarters, Quarters, bool]], grid: Grid
) -> list[list[NoteValue]]:
    """Write stretches that tile a bar: (start, end, is a rest), in quarters from the bar line."""
    written = values(edges, grid)
    return [
        [_value(piece) for piece in pieces]
        if all(map(_is_exact, pieces))
        else list(_decompose(edge[1] - edge[0]))
        for edge, pieces in zip(edges, written, strict=True)
    ]


def _is_exact(piece: Piece) -> bool:
    _, duration, value = piece
    shrink = 1 if value.triplet is None else Fraction(2, 3)
    return value.whole_bar or (duration == value.written * shrink and value.base in _NAMES)


def _value(piece: Piece) -> NoteValue:
    _, duration, value = piece
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
