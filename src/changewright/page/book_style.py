"""How a book is set: look, paper, size of print, language. Lengths are mm, sizes of type points."""

from dataclasses import dataclass
from typing import Literal

from changewright.page._verovio import STAFF_WIDTH
from changewright.page.look import LookName, text_width

__all__ = [
    "PAPER_SIZES",
    "PRINTS",
    "TEXT_WIDTH_MM",
    "BookPaper",
    "BookPrint",
    "BookStyle",
    "line_count",
]

BookPrint = Literal["usual", "large", "easy"]
PRINTS: tuple[BookPrint, ...] = ("usual", "large", "easy")
"""Sizes of print: the usual staff of 7 mm; large, of 10 mm with larger letters; easy, which is
large print in a face made to be told apart letter by letter, without italics, lines wider apart.
Source for easy: British Dyslexia Association, Style guide 2023 (sans serif, 12 points or more,
line spacing 1.5, no italics, left aligned), from memory."""

BookPaper = Literal["a4", "letter"]
PAPER_SIZES: tuple[BookPaper, ...] = ("a4", "letter")
"""The papers that a book can be set for."""

TEXT_WIDTH_MM = 180.0
_HEIGHTS_MM: dict[str, float] = {"a4": 297.0, "letter": 279.4}
_WIDTHS_MM: dict[str, float] = {"a4": 210.0, "letter": 215.9}
TOP_MM, BOTTOM_MM = 21.0, 19.0
_LARGE_STAFF, _LARGE_BARS, _LARGE_SCALE = 12950, 2, 1.35
_EASY_LEADING = 1.2
_HAIR_MM = 0.5
_POINT_MM = 25.4 / 72
_SAFETY = 1.08  # other faces run wider than the one that is measured, and kerning is left out


@dataclass(frozen=True, slots=True)
class BookStyle:
    """What all pages of a book share."""

    look: LookName = "plain"
    size: BookPrint = "usual"
    paper: BookPaper = "a4"
    language: str = "en"
    listen: bool = True

    @property
    def is_large(self) -> bool:
        """True where staff and letters are larger than usual."""
        return self.size != "usual"

    @property
    def scale(self) -> float:
        """Letters against the usual ones."""
        return _LARGE_SCALE if self.is_large else 1.0

    @property
    def line_scale(self) -> float:
        """The distance of lines of text against the usual one."""
        return self.scale * (_EASY_LEADING if self.size == "easy" else 1.0)

    @property
    def staff_width(self) -> int:
        """A full system in drawing units."""
        return _LARGE_STAFF if self.is_large else STAFF_WIDTH

    @property
    def bars_a_system(self) -> int:
        """The most bars on a system."""
        return _LARGE_BARS if self.is_large else 4

    @property
    def text_height_mm(self) -> float:
        """The height between running head and foot, less a hair for what is rounded."""
        return _HEIGHTS_MM[self.paper] - TOP_MM - BOTTOM_MM - _HAIR_MM

    def margins_mm(self, page: int) -> tuple[float, float]:
        """Left and right margin; the binding's side is a little wider."""
        spare = _WIDTHS_MM[self.paper] - TEXT_WIDTH_MM
        inner, outer = spare / 2 + 2, spare / 2 - 2
        return (inner, outer) if page % 2 else (outer, inner)


def line_count(text: str, size_pt: float, width_mm: float = TEXT_WIDTH_MM) -> int:
    """How many lines a text takes at most, set in any of our faces."""
    size = size_pt * _POINT_MM * _SAFETY
    space = text_width(" ", "edwin-roman", size)
    lines, at = 1, 0.0
    for word in text.split():
        width = text_width(word, "edwin-roman", size)
        if at and at + space + width > width_mm:
            lines, at = lines + 1, width
        else:
            at += width + (space if at else 0)
    return lines if text else 0
