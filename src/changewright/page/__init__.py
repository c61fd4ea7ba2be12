"""Engraving and books: sheets as pages for a music stand, at written pitch."""

from changewright.page.lesson import PAPERS, Paper, lesson_pdf, sheet_png, sheet_svg
from changewright.page.look import LookName

__all__ = ["PAPERS", "LookName", "Paper", "lesson_pdf", "sheet_png", "sheet_svg"]
