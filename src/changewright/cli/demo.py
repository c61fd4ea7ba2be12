"""``changewright demo``: the whole job on a demo chart, with nothing but the package."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from changewright.cli.hear import print_hearing
from changewright.cli.lesson import print_lesson
from changewright.cli.read import print_reading
from changewright.cli.speak import console, print_json

if TYPE_CHECKING:
    from changewright.usecases.demo import Demo, Planted

__all__ = ["demo"]


def demo(
    output: Annotated[Path, typer.Option("--output", "-o", help="The folder.")] = Path("quayside"),
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Run the whole job on a demo chart, down to a take whose mistakes are known."""
    from changewright.usecases.demo import run_demo

    done = run_demo(output)
    if as_json:
        print_json(_document(done))
    else:
        _print(done)
    if not done.is_right:
        raise typer.Exit(1)


def _print(done: "Demo") -> None:
    out = console()
    out.print("1. READ the chart\n", markup=False)
    print_reading(done.lesson.reading, done.lesson.exercises[0].sheet.tempo_bpm)
    out.print("\n2. LESSON for the student\n", markup=False)
    print_lesson(done.manifest, done.folder / "lesson")
    out.print("\n3. HEAR a take of exercise 1 with known mistakes\n", markup=False)
    print_hearing(done.hearing)
    out.print("\nPlayed wrong on purpose, and what was named:", markup=False)
    for planted in done.planted:
        verdict = "named" if planted in done.named else "NOT named"
        out.print(f"  {_words(planted)}: {verdict}", markup=False)
    for named in done.named:
        if named not in done.planted:
            out.print(f"  {_words(named)}: named, but was not played", markup=False)
    out.print(
        f"\nEverything lies in {done.folder}: open {done.folder / 'lesson' / 'lesson.pdf'}",
        markup=False,
        soft_wrap=True,
    )


def _words(one: "Planted") -> str:
    return f"bar {one.bar}, beat {one.beat}: {one.fault.value}"


def _document(done: "Demo") -> dict[str, object]:
    return {
        "folder": str(done.folder),
        "details": str(done.folder / done.marker),
        "planted": [_words(one) for one in done.planted],
        "named": [_words(one) for one in done.named],
    }
