"""Numerals: a chord counted from the tonic of its key, as a teacher writes it above the staff."""

from functools import lru_cache

from changewright.reading.heard import Kind, kind_of, sounding_root
from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name
from changewright.theory.symbols import write_symbol

__all__ = ["degree_words", "numeral_of", "roman", "scale_degree"]

_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")
_WORDS = ("one", "two", "three", "four", "five", "six", "seven")
_USUAL = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
_UNUSUAL = ((0, -1), (2, 1), (3, -1), (5, 1), (6, 1))  # b1, #3, b4, #6, #7, counted from 0
_RAISED = ((0, 1), (1, 1), (4, 1))
_MAJOR_FIFTHS = (0, 2, 4, -1, 1, 3, 5)


def scale_degree(root: Name, tonic: Name, rises: bool = True) -> Degree:
    """The degree of a root over a tonic as spelled; the usual one where the spelling is far off.

    Only a chord that ``rises``, as a passing diminished one may, has a raised 1, 2 or 5; another
    is counted as borrowed from above: Bmaj7 in E flat is the flat six.
    """
    fifths = root.fifths - tonic.fifths
    number = (4 * fifths) % 7
    alter = (fifths - _MAJOR_FIFTHS[number]) // 7
    unusual = _UNUSUAL if rises else _UNUSUAL + _RAISED
    if -1 <= alter <= 1 and (number, alter) not in unusual:
        return Degree(number + 1, alter)
    return Degree.parse(_USUAL[(root.pc - tonic.pc) % 12])


def roman(degree: Degree, small: bool) -> str:
    """A bare numeral: ``ii``, ``bVI``, ``#iv``."""
    numeral = _ROMAN[degree.number - 1]
    return f"{str(degree)[:-1]}{numeral.lower() if small else numeral}"


def numeral_of(chord: Chord, key: Key) -> str:
    """Count a chord from the tonic: ``iim7``, ``bVII7``, ``#iv°7``; N.C. has no numeral.

    A chord over a foreign bass that makes it a suspended dominant is written as that: Gm7/C in F is
    ``V9sus4``.
    """
    if chord.root is None:
        return "N.C."
    if chord.bass is not None and sounding_root(chord) != chord.root.pc:
        dark = (chord.bass.pc + 1) % 12 in chord.pcs
        suspended = "9sus4" if not dark else "7sus4(b9)"
        return f"{roman(scale_degree(chord.bass, key.tonic, False), False)}{suspended}"
    degree = scale_degree(chord.root, key.tonic, chord.is_diminished)
    bass = "" if chord.bass is None else f"/{scale_degree(chord.bass, key.tonic)}"
    return f"{roman(degree, chord.has(3, -1))}{_tail(chord.degrees)}{bass}"


@lru_cache(maxsize=1024)
def _tail(degrees: tuple[Degree, ...]) -> str:
    plain = Chord(Name(0), degrees)
    tail = write_symbol(plain)[1:]
    if kind_of(plain) is Kind.HALF_DIMINISHED:
        return tail.replace("m", "ø", 1).replace("(b5)", "")
    return tail


def degree_words(degree: Degree) -> str:
    """Say a degree: ``two``, ``flat seven``, ``sharp four``."""
    sign = {-1: "flat ", 0: "", 1: "sharp "}[degree.alter]
    return sign + _WORDS[degree.number - 1]
