"""Engraving and books: sheets as pages for a music stand, at written pitch."""

from changewright.page.lesson import (
    PAPERS,
    Paper,
    Print,
    lesson_pdf,
    part_pdf,
    sheet_drawing,
    sheet_png,
    sheet_svg,
)
from changewright.page.look import LOOKS, LookName
from changewright.page.screen import changes_svg, screen_svg
from changewright.page.written_reading import written_reading

__all__ = [
    "LOOKS",
    "PAPERS",
    "LookName",
    "Paper",
    "Print",
    "changes_svg",
    "lesson_pdf",
    "part_pdf",
    "screen_svg",
    "sheet_drawing",
    "sheet_png",
    "sheet_svg",
    "written_reading",
]
