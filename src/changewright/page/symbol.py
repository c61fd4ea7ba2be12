"""Chord symbols and degree figures as set on the page: a root, a raised quality, a bass."""

import re
from dataclasses import dataclass
from functools import cache

from changewright.page.look import Look, text_width
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree, Name
from changewright.theory.symbols import write_symbol

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
_LOW = re.compile(r"(m(?!aj)|dim(?!\d)|\+)?(.*)")


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text of one size; ``scale`` and ``rise`` are shares of the symbol's size."""

    text: str
    scale: float = 1.0
    rise: float = 0.0


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
def symbol_runs(chord: Chord, hand: bool = False) -> tuple[Run, ...]:
    """Set a chord symbol: the root large, m beside it, the rest small and raised.

    The handwritten face has no degree sign, so a diminished chord is written out there.
    """
    if chord.root is None:
        return (Run("N.C."),)
    if chord.upper is not None:
        below = Chord(chord.root, chord.degrees, chord.bass)
        return (*symbol_runs(chord.upper, hand), Run(" / "), *symbol_runs(below, hand))
    low, high = _parts(_tail(chord), hand)
    runs = [Run(chord.root.letter)]
    if chord.root.alter:
        runs.append(Run(_ACCIDENTALS[chord.root.alter], 0.88, 0.06))
    if low:
        runs.append(Run(low, 0.8 if low == "m" else 0.66))
    if high:
        runs.append(Run(high, 0.66, 0.34))
    if chord.bass is not None:
        runs += [Run("/", 0.95), Run(name_text(chord.bass), 0.85)]
    return tuple(runs)


def _tail(chord: Chord) -> str:
    """The symbol without root and bass, with true accidentals."""
    whole = write_symbol(Chord(chord.root, chord.degrees))
    tail = whole.removeprefix(str(chord.root))
    return re.sub(r"#(?=\d)", "♯", re.sub(r"b(?=\d)", "♭", tail))


def _parts(tail: str, hand: bool) -> tuple[str, str]:
    if hand:
        tail = tail.replace("°", "dim")
    match = _LOW.fullmatch(tail)
    return (match[1] or "", match[2]) if match else ("", tail)


def symbol_width(chord: Chord, look: Look, size: float) -> float:
    """The width of a set symbol, in the unit of ``size``."""
    runs = symbol_runs(chord, look.name == "handwritten")
    return sum(text_width(r.text, look.symbol, size * r.scale) for r in runs)


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
