"""The nearest readings of a chord symbol that can't be read."""

from collections.abc import Callable, Iterator
from difflib import SequenceMatcher

from changewright.theory.symbol_tokens import Fault

__all__ = ["nearest"]

_TAILS = (
    "", "m", "7", "maj7", "m7", "m7(b5)", "dim7", "6", "m6", "6/9", "9", "m9", "maj9", "13", "11",
    "7(b9)", "7(#9)", "7(#11)", "7(#5)", "7alt", "sus4", "7sus4", "m(maj7)", "dim", "aug",
    "(add9)", "maj7(#11)", "m11", "13(b9)", "7(b5)", "5",
)  # fmt: skip
_ALIKE = 0.55  # share of common characters from which a reading is worth suggesting
_LONGEST = 24  # characters; a longer text gets no suggestion, so that time stays bounded


def nearest(text: str, offset: int, read: Callable[[str], object]) -> tuple[str, ...]:
    """Up to two readable symbols most like ``text``, the likeliest first.

    ``read`` raises :class:`Fault` for what can't be read. Tries small repairs at the fault, then
    common endings. Reads at most about fifty short candidates.
    """
    if len(text) > _LONGEST:
        return ()
    candidates = dict.fromkeys(c.strip() for c in _candidates(text, offset))
    readable = [c for c in candidates if _is_readable(c, read)]
    likeness = {c: SequenceMatcher(None, text, c).ratio() for c in readable}
    alike = [c for c in readable if likeness[c] >= _ALIKE]
    return tuple(sorted(alike, key=lambda c: -likeness[c])[:2])


def _candidates(text: str, offset: int) -> Iterator[str]:
    bare = text.strip()
    yield bare[:1].upper() + bare[1:]
    before, after = text[:offset], text[offset + 1 :]
    yield before + after
    yield text[: max(offset - 1, 0)] + text[offset:]
    for sign in ("(", ")", "b", "#"):
        yield before + sign + text[offset:]
    yield text + ")"
    yield before + text[offset : offset + 1].swapcase() + after
    yield before.rstrip(" /,(")
    root = "B" if bare[:1].upper() == "H" else bare[:1].upper()
    head = root + (bare[1:2] if bare[1:2] in ("b", "#", "♭", "♯") else "")
    yield from (head + tail for tail in _TAILS)
    yield root + bare[1:]


def _is_readable(text: str, read: Callable[[str], object]) -> bool:
    try:
        read(text)
    except Fault:
        return False
    return bool(text)
