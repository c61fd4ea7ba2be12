"""``changewright hear``: a take in, listening notes out."""

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from changewright.cli.speak import console, print_json

if TYPE_CHECKING:
    from changewright.ear.hearing import Hearing
    from changewright.ear.solo import SoloHearing

__all__ = ["hear", "print_hearing"]


def hear(
    take: Annotated[Path, typer.Argument(help="A recording of one melodic instrument.")],
    lesson: Annotated[Path, typer.Option(help="The folder that 'changewright lesson' wrote.")],
    exercise: Annotated[int, typer.Option(help="The number of the exercise, from 1.")],
    solo: Annotated[
        bool, typer.Option("--solo", help="A free chorus to the exercise's band: no verdict.")
    ] = False,
    free: Annotated[
        bool, typer.Option("--free", help="Recorded without the play-along: find the tempo.")
    ] = False,
    page: Annotated[
        Path | None, typer.Option(help="Write a page too: a name that ends in .pdf or .html.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Hear a take against an exercise and say, bar by bar, what was met and what was not."""
    from changewright.ear.document import hearing_document
    from changewright.ear.solo import solo_document
    from changewright.usecases.hear import listen, listen_solo
    from changewright.usecases.listening_page import (
        check_page,
        exercise_page,
        solo_page,
        write_page,
    )

    if page is not None:
        check_page(page)
    if solo:
        studied = listen_solo(take, lesson, exercise, free=free)
        drawn, document = partial(solo_page, studied), partial(solo_document, studied.hearing)
        told = partial(_print_solo, studied.hearing)
    else:
        heard = listen(take, lesson, exercise, free=free)
        drawn, document = partial(exercise_page, heard), partial(hearing_document, heard.hearing)
        told = partial(print_hearing, heard.hearing)
    if page is not None:
        write_page(drawn(), page)
    if as_json:
        print_json(document())
    else:
        told()


def _print_solo(hearing: "SoloHearing") -> None:
    out = console()
    out.print(f"{hearing.title}: an open solo, {hearing.choruses:.3g} choruses", markup=False)
    out.print("Nothing here is right or wrong; no total is given.\n", markup=False)
    for head, text in hearing.said():
        out.print(f"{head}: {text}", markup=False)
    if hearing.pitch:
        out.print(f"Pitch: {hearing.pitch}", markup=False)
    for line in hearing.lines():
        out.print(f"  {line}", markup=False)


def print_hearing(hearing: "Hearing") -> None:
    """The listening notes: the player's own ears first, then one of each, then the bars."""
    from changewright.ear.remarks import remarks

    out = console()
    notes = remarks(hearing)
    out.print(f"{hearing.title}  for {hearing.instrument.name}", markup=False)
    out.print("\nFirst, your own ears:", markup=False)
    for question in notes.questions:
        out.print(f"  - {question}", markup=False)
    out.print()
    if notes.headline:
        out.print(notes.headline, markup=False)
    elif hearing.pulse is not None:
        out.print(f"Your own tempo: about {hearing.pulse.bpm:.0f}.", markup=False)
    for name, said in (
        ("What worked", notes.strength),
        ("To work on", notes.correction),
        ("Next time", notes.suggestion),
    ):
        if said:
            out.print(f"{name}: {said.text}", markup=False)
    if notes.pitch:
        out.print(f"Pitch: {notes.pitch}", markup=False)
    if notes.bars:
        out.print("\nBar by bar:", markup=False)
    for bar in notes.bars:
        out.print(f"  {bar.number:>3}  {bar.text}", markup=False)
    out.print(f"\n{notes.caveat}", markup=False)
