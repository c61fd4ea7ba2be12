"""Chord symbols in a list, each with its meaning."""

from collections.abc import Iterable
from typing import Any

from changewright.errors import ChordError
from changewright.theory.symbols import read_symbol, write_symbol

__all__ = ["symbol_documents"]


def symbol_documents(texts: Iterable[str]) -> list[dict[str, Any]]:
    """Read each symbol.

    Per symbol: ``text``, ``canonical``, ``tones`` (names from the root up), ``pcs`` (pitch classes
    0 to 11 of the chord itself, sorted), ``bass`` (pitch class of a written bass or None) and
    ``error`` (the message where it can't be read, else None).
    """
    return [_document(text) for text in texts]


def _document(text: str) -> dict[str, Any]:
    try:
        chord = read_symbol(text)
    except ChordError as fault:
        return {
            "text": text,
            "canonical": None,
            "tones": None,
            "pcs": None,
            "bass": None,
            "error": str(fault),
        }
    own = {tone.pc for tone in chord.tones}
    upper = chord.upper.pcs if chord.upper is not None else frozenset()
    return {
        "text": text,
        "canonical": write_symbol(chord),
        "tones": [str(tone) for tone in chord.tones],
        "pcs": sorted(own | upper),
        "bass": None if chord.bass is None else chord.bass.pc,
        "error": None,
    }
