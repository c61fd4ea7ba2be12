"""Read and write chord symbols as working players spell them."""

import re
from functools import lru_cache

from changewright.errors import ChordError, Place
from changewright.theory.chord import NO_CHORD, Chord
from changewright.theory.pitch import Degree
from changewright.theory.symbol_grammar import degrees_of
from changewright.theory.symbol_nearest import nearest
from changewright.theory.symbol_tokens import Fault, fold, read_root
from changewright.theory.symbol_writing import STYLES, Style, tail_of, typeset

__all__ = ["LONGEST_SYMBOL", "STYLES", "Style", "read_symbol", "write_symbol"]

LONGEST_SYMBOL = 96
"""Characters; a longer text is no chord symbol. Keeps time and memory bounded."""

_NO_CHORD = re.compile(r"(?i:n\.? ?c\.?|n/c|no ?chord)")
_BASS = re.compile(r"/ *(?=[A-GH])")


@lru_cache(maxsize=4096)
def read_symbol(text: str, *, german: bool = False) -> Chord:
    """Read one chord symbol: ``F#m7(b5)``, ``Bb-7``, ``C7alt``, ``Eb6/9``, ``D|C7``, ``N.C.``.

    A symbol wholly in parentheses is an optional chord and means the same. ``german`` reads H as
    B and B as B flat. Raises :class:`ChordError` that points at the character that can't be read
    and suggests the nearest readings.

    >>> " ".join(map(str, read_symbol("Bb79b").degrees))
    '1 3 5 b7 b9'
    """
    try:
        return _read(text, german)
    except Fault as fault:
        raise _error(text, fault, german) from None


def write_symbol(chord: Chord, style: Style = "abbreviated") -> str:
    """Write a chord in its one canonical spelling, in one of three manners.

    ``symbolic`` for the printed page (C−7, FΔ7, B♭ø7), ``abbreviated`` (Cm7, Fmaj7, Bbm7(b5)),
    ``plain`` without special signs (Cmi7, Fma7, Bbmi7(b5)). Reading it again gives the same chord.

    >>> [write_symbol(read_symbol("C-7b5"), s) for s in ("symbolic", "abbreviated", "plain")]
    ['Cø7', 'Cm7(b5)', 'Cmi7(b5)']
    """
    if chord.root is None:
        return "N.C."
    tail = tail_of(chord.degrees, style)
    bass = f"/{typeset(str(chord.bass), style)}" if chord.bass is not None else ""
    own = f"{typeset(str(chord.root), style)}{tail}{bass}"
    return own if chord.upper is None else f"{write_symbol(chord.upper, style)}|{own}"


def _read(text: str, german: bool) -> Chord:
    if len(text) > LONGEST_SYMBOL:
        raise Fault(LONGEST_SYMBOL, f"longer than {LONGEST_SYMBOL} characters")
    folded = fold(text)
    start, end = _trim(folded, 0, len(folded))
    if start == end:
        raise Fault(start, "there is no chord here")
    if _NO_CHORD.fullmatch(folded, start, end):
        return NO_CHORD
    bar = folded.find("|", start, end)
    if bar < 0:
        return _one_chord(folded, start, end, german)
    upper = _one_chord(folded, *_trim(folded, start, bar), german)
    lower = _one_chord(folded, *_trim(folded, bar + 1, end), german)
    return Chord(lower.root, lower.degrees, lower.bass, _without_upper(upper, bar))


def _without_upper(upper: Chord, bar: int) -> Chord:
    if upper.upper is not None:
        raise Fault(bar, "a polychord has two chords")
    return upper


def _trim(text: str, start: int, end: int) -> tuple[int, int]:
    """Leave out spaces around a symbol and the parentheses of an optional chord."""
    while start < end and text[start] == " ":
        start += 1
    while start < end and text[end - 1] == " ":
        end -= 1
    if start < end - 1 and text[start] == "(" and _closes(text, start, end) == end - 1:
        return _trim(text, start + 1, end - 1)
    return start, end


def _closes(text: str, start: int, end: int) -> int:
    depth = 0
    for at in range(start, end):
        depth += (text[at] == "(") - (text[at] == ")")
        if depth == 0:
            return at
    return -1


def _one_chord(text: str, start: int, end: int, german: bool) -> Chord:
    """Read root, tail and bass; ``D/C7``, a chord over a whole chord, is a polychord."""
    root, behind = read_root(text[:end], start, german)
    slash = _BASS.search(text, behind, end)
    stop = slash.start() if slash else end
    degrees = _degrees(text, behind, stop)
    if not slash:
        return Chord(root, degrees)
    bass, rest = read_root(text[:end], slash.end(), german)
    if text[rest:end].strip():
        lower = _degrees(text, rest, end)
        return Chord(bass, lower, upper=Chord(root, degrees))
    return Chord(root, degrees, bass)


def _degrees(text: str, start: int, end: int) -> tuple[Degree, ...]:
    """The degrees of the tail between two offsets; a fault is placed in the whole symbol."""
    try:
        return degrees_of(text[start:end])
    except Fault as fault:
        raise Fault(start + fault.offset, fault.why) from None


def _error(text: str, fault: Fault, german: bool) -> ChordError:
    guesses = nearest(text, fault.offset, lambda guess: _read(guess, german))
    remedy = f"Did you mean {' or '.join(guesses)}?" if guesses else "Write it like Bbm7 or F7(b9)."
    shown = text if len(text) <= LONGEST_SYMBOL else text[:LONGEST_SYMBOL] + "..."
    return ChordError(
        f"can't read the chord {shown!r}: {fault.why}",
        where=Place(column=fault.offset + 1),
        remedy=remedy,
        source=shown,
    )
