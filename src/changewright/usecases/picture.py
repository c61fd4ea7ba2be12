"""One exercise of a lesson as a picture, for a handout or a slide."""

from pathlib import Path

from changewright.errors import InputError, Place
from changewright.page import LookName, sheet_drawing, sheet_png
from changewright.theory.symbol_writing import Style
from changewright.usecases.lesson_folder import load_assignment

__all__ = ["FORMS", "write_picture"]

FORMS = (".svg", ".png")
"""What a picture's name may end in: lines that can be scaled, or dots."""

_LEAST_DOTS, _MOST_DOTS = 30, 1200


def write_picture(
    folder: Path,
    number: int,
    path: Path,
    *,
    look: LookName = "plain",
    chords: Style = "abbreviated",
    answers: bool = False,
    dots_an_inch: int = 200,
) -> None:
    """Draw an exercise of a lesson's folder, by its number from 1, to a file.

    Raises :class:`InputError` for a lesson or an exercise that is not there, and for a file that is
    neither SVG nor PNG.
    """
    if path.suffix.lower() not in FORMS:
        raise InputError(
            "a picture is SVG or PNG",
            where=Place(file=str(path)),
            remedy="Let its name end in .svg, for a page, or in .png, for a slide.",
        )
    if not _LEAST_DOTS <= dots_an_inch <= _MOST_DOTS:
        raise InputError(
            f"{dots_an_inch} dots an inch make no picture",
            remedy=f"Ask for {_LEAST_DOTS} to {_MOST_DOTS}.",
        )
    sheet = load_assignment(folder, number).sheet
    if path.suffix.lower() == ".svg":
        path.write_text(sheet_drawing(sheet, look=look, chords=chords, answers=answers), "utf-8")
    else:
        path.write_bytes(
            sheet_png(sheet, look=look, chords=chords, answers=answers, dots_an_inch=dots_an_inch)
        )
