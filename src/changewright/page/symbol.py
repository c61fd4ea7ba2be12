"""Chord symbols and degree figures as set on the page: a root, a raised quality, a bass."""

import re
from dataclasses import dataclass
from functools import cache

from changewright.page.look import Face, Look, text_width
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree, Name
from changewright.theory.symbol_writing import Style, tail_of

__all__ = [
    "Run",
    "figure_text",
    "name_text",
    "name_words",
    "symbol_runs",
    "symbol_width",
    "symbol_words",
]

_ACCIDENTALS = {-2: "♭♭", -1: "♭", 0: "", 1: "♯", 2: "♯♯"}
_WORDS = {-2: " double flat", -1: " flat", 0: "", 1: " sharp", 2: " double sharp"}
_LOW = re.compile(r"(mi|m(?!a)|dim(?!\d)|aug|\+|[−-])?(.*)")
_BORROWED = "Δ°"  # signs that the handwritten face takes from the plain one
_ON_THE_AXIS = "−-+"  # signs that stand at half the height of a capital


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text of one size; ``scale`` and ``rise`` are shares of the symbol's size.

    ``face`` is another face than the rest of the text has, for a sign that its own lacks.
    """

    text: str
    scale: float = 1.0
    rise: float = 0.0
    face: Face | None = None


def name_text(name: Name) -> str:
    """A note name with true accidentals: ``B♭``."""
    return name.letter + _ACCIDENTALS.get(name.alter, "")


def name_words(name: Name) -> str:
    """A note name in words: ``B flat``."""
    return name.letter + _WORDS.get(name.alter, "")


def figure_text(degree: Degree) -> str:
    """A degree as printed under its note: ``♭7``."""
    return _ACCIDENTALS[degree.alter] + str(degree.number)


@cache
def symbol_runs(chord: Chord, hand: bool = False, style: Style = "abbreviated") -> tuple[Run, ...]:
    """Set a chord symbol in one of three styles: the root large, minor beside it, the rest small
    and raised. Accidentals are true ones in every style.

    The handwritten face has no degree sign: a diminished chord is written out there, and only in
    the symbolic style gets the plain face's ring.
    """
    if chord.root is None:
        return (Run("N.C."),)
    if chord.upper is not None:
        below = Chord(chord.root, chord.degrees, chord.bass)
        upper = symbol_runs(chord.upper, hand, style)
        return (*upper, Run(" / "), *symbol_runs(below, hand, style))
    low, high = _parts(_tail(chord, style), hand, style)
    runs = [Run(chord.root.letter)]
    if chord.root.alter:
        runs.append(Run(_ACCIDENTALS[chord.root.alter], 0.88, 0.06))
    if low:
        if low in _ON_THE_AXIS:
            runs.append(Run(low, 0.8, 0.1))
        else:
            runs.append(Run(low, 0.8 if low == "m" else 0.66))
    if high:
        runs += _raised(high, hand)
    if chord.bass is not None:
        runs += [Run("/", 0.95), Run(name_text(chord.bass), 0.85)]
    return tuple(runs)


def _raised(text: str, hand: bool) -> list[Run]:
    """What stands small and high; signs that the handwritten face lacks are borrowed."""
    pieces = re.split(f"([{_BORROWED}])", text) if hand else [text]
    return [
        Run(piece, 0.66, 0.34, "edwin-roman" if hand and piece in _BORROWED else None)
        for piece in pieces
        if piece
    ]


def _tail(chord: Chord, style: Style = "abbreviated") -> str:
    """The symbol without root and bass, with true accidentals."""
    tail = tail_of(chord.degrees, style)
    return re.sub(r"#(?=\d)", "♯", re.sub(r"b(?=\d)", "♭", tail))


def _parts(tail: str, hand: bool, style: Style) -> tuple[str, str]:
    if hand:
        tail = tail.replace("−", "-") if style == "symbolic" else tail.replace("°", "dim")
    match = _LOW.fullmatch(tail)
    return (match[1] or "", match[2]) if match else ("", tail)


def symbol_width(chord: Chord, look: Look, size: float) -> float:
    """The width of a set symbol, in the unit of ``size``."""
    runs = symbol_runs(chord, look.name == "handwritten", look.chords)
    return sum(text_width(r.text, r.face or look.symbol, size * r.scale) for r in runs)


@cache
def symbol_words(chord: Chord) -> str:
    """A chord in words for a screen reader: ``B flat 7``, ``C minor 7 flat 5``."""
    if chord.root is None:
        return "no chord"
    tail = _tail(Chord(chord.root, chord.degrees))
    tail = tail.replace("♯", " sharp ").replace("♭", " flat ").replace("maj", " major ")
    tail = re.sub(r"^m(?!aj)", " minor ", tail).replace("°", " diminished ")
    tail = tail.replace("+", " augmented ").replace("ø", " half-diminished ")
    words = f"{name_words(chord.root)} {re.sub(r'[(),]', ' ', tail)}"
    if chord.upper is not None:
        words = f"{symbol_words(chord.upper)} over {words}"
    if chord.bass is not None:
        words += f" over {name_words(chord.bass)}"
    return " ".join(words.split())
