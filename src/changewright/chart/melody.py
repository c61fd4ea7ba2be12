"""Read a bar of melody: notes with octave and length, rests, and notes held over."""

import re
from fractions import Fraction

from changewright.chart.cells import Cell, count_of, read_beats
from changewright.chart.source import Token
from changewright.chart.written import Sung
from changewright.music.bar import Meter, beat_label
from changewright.theory.pitch import Pitch

__all__ = ["read_melody"]

_PITCH = re.compile(r"([A-Ga-g][b♭#♯]{0,2}|[A-Ga-g]x)(\d)")


def read_melody(cell: Cell, meter: Meter, beats: Fraction, last: Pitch | None) -> tuple[Sung, ...]:
    """Read a bar of melody; ``last`` is the note that sounds up to its bar line, if any."""
    pieces: list[Sung] = []
    length, at = Fraction(1), Fraction(0)
    for token in cell.tokens:
        sign, colon, text = token.text.partition(":")
        if colon:
            length = read_beats(cell, Token(text, token.column + len(sign) + 1))
        _sing(cell, pieces, Token(sign, token.column), length * meter.beat, last)
        at += length
        if at > beats:
            raise cell.fault(
                f"the melody is too long for its bar of {count_of(beats)}",
                token.column,
                beat_label((at - length) * meter.beat, meter),
                remedy="Hold a note over the bar line with ~ in the next bar.",
            )
    if pieces and at < beats:
        raise cell.fault(
            f"the melody is too short: {count_of(at)} of {beats}",
            beat=beat_label(at * meter.beat, meter),
            remedy=f"Fill the bar, with a rest such as -:{beats - at}.",
        )
    return tuple(pieces) if any(p.pitch for p in pieces) else ()


def _sing(
    cell: Cell, pieces: list[Sung], token: Token, length: Fraction, last: Pitch | None
) -> None:
    if token.text != "~":
        pitch = _pitch(cell, token)
        if pitch is None and pieces and pieces[-1].pitch is None:
            length += pieces.pop().length
        pieces.append(Sung(pitch, length))
        return
    before = pieces[-1].pitch if pieces else last
    if before is None:
        raise cell.fault(
            "~ holds a note, and no note sounds before it",
            token.column,
            remedy="Write the note, or - for a rest.",
        )
    if pieces:
        pieces[-1] = Sung(before, pieces[-1].length + length, pieces[-1].held)
    else:
        pieces.append(Sung(before, length, held=True))


def _pitch(cell: Cell, token: Token) -> Pitch | None:
    if token.text == "-":
        return None
    match = _PITCH.fullmatch(token.text)
    if not match:
        raise cell.fault(
            f"can't read the note {token.text[:40]!r}",
            token.column,
            remedy="Write a note with its octave and length in beats like Bb4:1/2 "
            "(middle C is C4), - for a rest, ~ to hold.",
        )
    return Pitch.parse(token.text[0].upper() + token.text[1:])
