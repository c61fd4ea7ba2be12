"""The two looks of a page, plain and handwritten, and the measures of their letters.

Fonts come with the package, unmodified, each under the SIL Open Font License 1.1 with its notice
beside it in ``fonts``.
"""

import csv
import unicodedata
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.resources import files
from typing import Literal

from changewright.errors import UnknownName
from changewright.page.typography import curly
from changewright.theory.symbol_writing import Style

__all__ = ["LOOKS", "Face", "Look", "LookName", "font_bytes", "look_of", "printable", "text_width"]

Face = Literal["edwin-roman", "edwin-bold", "edwin-italic", "petalumascript"]
LookName = Literal["plain", "handwritten"]
LOOKS: tuple[LookName, ...] = ("plain", "handwritten")
"""The looks a page can have."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a page looks: the music font, and the faces of symbols, figures and titles.

    ``family`` is the faces' family name. ``cap`` is the height of a capital as a share of the
    size. ``symbol_size`` and ``figure_size`` are in staff spaces. ``chords`` is the style in
    which chord symbols are written.
    """

    name: LookName
    music: str
    family: str
    symbol: Face
    figure: Face
    number: Face
    cap: float
    symbol_size: float
    figure_size: float
    chords: Style = "abbreviated"


_LOOKS = {
    "plain": Look(
        "plain", "Leland", "Edwin", "edwin-roman", "edwin-roman", "edwin-italic", 0.722, 2.9, 1.95
    ),
    "handwritten": Look(
        "handwritten",
        "Petaluma",
        "Petaluma Script",
        "petalumascript",
        "petalumascript",
        "petalumascript",
        0.7,
        3.1,
        2.1,
    ),
}
_REPLACED = str.maketrans({"\N{MINUS SIGN}": "-", "\N{NON-BREAKING HYPHEN}": "-", "\u00a0": " "})


def look_of(name: str, chords: Style = "abbreviated") -> Look:
    """A look by name, with chord symbols in a style; raises :class:`UnknownName` listing those we
    have."""
    if name not in _LOOKS:
        raise UnknownName("look", name, _LOOKS)
    return replace(_LOOKS[name], chords=chords)


def font_bytes(face: Face) -> bytes:
    """The font file of a face."""
    return files("changewright.page").joinpath(f"fonts/{face}.otf").read_bytes()


@cache
def _advances() -> dict[str, dict[str, int]]:
    table = files("changewright.page").joinpath("fonts/advances.tsv").read_text("utf-8")
    by_face: dict[str, dict[str, int]] = {}
    for row in csv.DictReader(table.splitlines(), delimiter="\t"):
        character = chr(int(row.pop("character"), 16))
        for face, advance in row.items():
            if advance:
                by_face.setdefault(face, {})[character] = int(advance)
    return by_face


@lru_cache(maxsize=8192)
def text_width(text: str, face: Face, size: float) -> float:
    """The set width of a text, in the unit of ``size``; kerning is left out."""
    known, spare = _advances()[face], _advances()["edwin-roman"]
    return sum(known.get(c, spare.get(c, 1000)) for c in text) * size / 1000


@cache
def printable(text: str) -> str:
    """A text that our fonts can print, with a printer's quotation marks: what the fonts lack loses
    its marks, or becomes a ``?``.

    PITFALL: an unknown character would print as an empty box, and nobody would be told.
    """
    known = _advances()["edwin-roman"].keys()
    flat = " ".join(unicodedata.normalize("NFC", text).translate(_REPLACED).split())
    return "".join(c if c in known else _nearest(c) for c in curly(flat))


def _nearest(character: str) -> str:
    known = _advances()["edwin-roman"].keys()
    plain = [c for c in unicodedata.normalize("NFKD", character) if c in known]
    if plain:
        return "".join(plain)
    return "" if unicodedata.category(character)[0] in "CM" else "?"
