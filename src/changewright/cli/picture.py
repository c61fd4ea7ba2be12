"""``changewright picture``: one exercise of a lesson as a picture, for a handout or a slide."""

from pathlib import Path
from typing import Annotated

import typer

from changewright.cli.options import one_of

__all__ = ["picture"]


def picture(
    lesson: Annotated[Path, typer.Argument(help="A lesson's folder.")],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="The file: a name ending in .svg or .png.")
    ],
    number: Annotated[int, typer.Option("--exercise", "-n", help="Which exercise, from 1.")] = 1,
    look: Annotated[str, typer.Option(help="plain or handwritten.")] = "plain",
    chords: Annotated[
        str, typer.Option(help="Chord symbols: symbolic, abbreviated or plain letters.")
    ] = "abbreviated",
    answers: Annotated[bool, typer.Option("--answers", help="Fill the blanks in.")] = False,
    dots: Annotated[int, typer.Option(help="Dots an inch of a .png.")] = 200,
) -> None:
    """Draw one exercise of a lesson, cropped to its music, for a handout or a slide."""
    from changewright.page import LOOKS
    from changewright.theory.symbols import STYLES
    from changewright.usecases.picture import write_picture

    write_picture(
        lesson,
        number,
        output,
        look=one_of("look", look, LOOKS),
        chords=one_of("style of chord symbols", chords, STYLES),
        answers=answers,
        dots_an_inch=dots,
    )
    typer.echo(f"Written to {output}")
