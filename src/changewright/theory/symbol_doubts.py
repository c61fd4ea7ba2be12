"""What a careful copyist would ask about a symbol that can be read, but is read in two ways."""

import re

from changewright.theory.symbol_tokens import fold
from changewright.theory.symbols import read_symbol

__all__ = ["doubts"]

_ROOT = r"([A-G])(bb|b|##|#|x|)"
# Source: domain reference 2.3, rules 3, 6, 9, 12; common practice.
_DOUBTS = (
    (
        rf"{_ROOT.replace('(bb|b|##|#|x|)', '(b)')}(5|9|11|13)",
        "{0}{1}{2} is read with the root {0}{1}; for {0} with a flat {2} write {0}7(b{2})",
    ),
    (rf"{_ROOT}2", "{0}{1}2 is read as {0}{1}(add9); for the sus chord write {0}{1}sus2"),
    (rf"{_ROOT}4", "{0}{1}4 is read as {0}{1}sus4; for the added fourth write {0}{1}(add11)"),
    (rf"{_ROOT}sus9", "{0}{1}sus9 is read as {0}{1}sus2; with a seventh write {0}{1}9sus4"),
    (
        rf"{_ROOT}[-m]?Δ(?!\d)",
        "a triangle alone is read as the major seventh; for the triad write {0}{1}",
    ),
    (
        rf"{_ROOT}(?:°|o|dim)(?![\d(MmΔj])",
        "a diminished triad as typed; most players play {0}{1}°7",
    ),
)
_PATTERNS = tuple((re.compile(rf"{pattern}(?=$|/)"), words) for pattern, words in _DOUBTS)


def doubts(text: str, *, german: bool = False) -> tuple[str, ...]:
    """Sentences to put to the writer of a symbol that some players take otherwise.

    Empty for what is plain. Raises :class:`ChordError` for what can't be read.

    >>> doubts("C7"), doubts("Ab5")
    ((), ('Ab5 is read with the root Ab; for A with a flat 5 write A7(b5)',))
    """
    read_symbol(text, german=german)
    bare = fold(text).strip(" ()")
    found = ((pattern.match(bare), words) for pattern, words in _PATTERNS)
    return tuple(words.format(*match.groups()) for match, words in found if match)
