"""``changewright lesson``: a chart and a student in, a folder to print and play out."""

from pathlib import Path
from typing import Annotated, get_args

import typer

from changewright.cli.options import Cache, Fresh, Instruments, OwnLevel, one_of
from changewright.cli.speak import console, print_json
from changewright.music.document import Document

__all__ = ["lesson", "print_lesson"]


def lesson(
    chart: Annotated[str, typer.Argument(help="A chart file, or a chart of the shelf by name.")],
    instrument: Annotated[str, typer.Option("--for", help="The instrument to write for.")],
    level: Annotated[int, typer.Option(help="The curriculum's level, 1 to 8.")] = 1,
    key: Annotated[str | None, typer.Option(help="Concert key; the chart's own if none.")] = None,
    seed: Annotated[int, typer.Option(help="Another seed, another lesson.")] = 1,
    output: Annotated[Path, typer.Option("--output", "-o", help="The folder.")] = Path("lesson"),
    student: Annotated[str, typer.Option(help="Whose lesson it is, for the page's head.")] = "",
    tempo: Annotated[int | None, typer.Option(help="Quarters a minute.")] = None,
    family: Annotated[
        list[str] | None, typer.Option(help="A family of exercises; give it more than once.")
    ] = None,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    look: Annotated[str, typer.Option(help="plain or handwritten.")] = "plain",
    size: Annotated[str, typer.Option(help="usual or large print.")] = "usual",
    language: Annotated[str, typer.Option(help="The page's language: en or de.")] = "en",
    answers: Annotated[
        str, typer.Option(help="open: the student fills the blanks; filled; key: at the back.")
    ] = "open",
    chords: Annotated[
        str, typer.Option(help="Chord symbols: symbolic, abbreviated or plain letters.")
    ] = "abbreviated",
    spelling: Annotated[
        str | None,
        typer.Option(
            help="Accidentals: strict; usual, no double ones; easy, nor Cb, Fb, E# and B#."
        ),
    ] = None,
    studio: Annotated[
        str | None, typer.Option(help="The studio's address, for codes to scan on the page.")
    ] = None,
    relax: Annotated[
        bool, typer.Option("--relax", help="Where no line exists, loosen the least and say so.")
    ] = False,
    instruments: Instruments = None,
    own_level: OwnLevel = None,
    phrases: Annotated[
        Path | None, typer.Option("--phrases", help="A folder with phrases of your own.")
    ] = None,
    cache: Cache = None,
    fresh: Fresh = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the manifest.")] = False,
) -> None:
    """Compose a lesson and write it down: pages, scores, stems and a manifest."""
    from changewright.page import LOOKS, PAPERS, Print
    from changewright.page.language import languages
    from changewright.theory.spelling import MANNERS
    from changewright.theory.symbols import STYLES
    from changewright.usecases.lesson import Answers, LessonRequest, plan_lesson
    from changewright.usecases.lesson_folder import write_lesson
    from changewright.usecases.stems import stem_shelf

    request = LessonRequest(
        chart=chart,
        instrument=instrument,
        level=level,
        key=key,
        seed=seed,
        student=student,
        tempo_bpm=tempo,
        families=tuple(family or ()),
        paper=one_of("paper", paper, PAPERS),
        look=one_of("look", look, LOOKS),
        relax=relax,
        instruments=instruments,
        own_level=own_level,
        size=one_of("print size", size, get_args(Print)),
        answers=one_of("way with answers", answers, get_args(Answers)),
        studio=studio,
        phrases=phrases,
        chords=one_of("style of chord symbols", chords, STYLES),
        spelling=None if spelling is None else one_of("spelling", spelling, MANNERS),
        language=one_of("language", language, tuple(languages())),
    )
    manifest = write_lesson(plan_lesson(request), output, None if fresh else stem_shelf(cache))
    if as_json:
        print_json(manifest)
    else:
        print_lesson(manifest, output)


def print_lesson(manifest: Document, folder: Path) -> None:
    """Say what the lesson holds and where it lies."""
    out = console()
    whom = f" ({manifest['student']})" if manifest["student"] else ""
    out.print(
        f"{manifest['title']}: level {manifest['level']}, {manifest['instrument']}{whom}, "
        f"concert {manifest['key']}, seed {manifest['seed']}",
        markup=False,
    )
    for exercise in manifest["exercises"]:
        out.print(
            f"  {exercise['number']}  {exercise['sheet']['title']}: "
            f"{exercise['sheet']['instruction']}",
            markup=False,
        )
    out.print(f"Written to {folder}: print {folder / 'lesson.pdf'}", markup=False, soft_wrap=True)
    out.print("Start with the volume low, and rest before you tire.", markup=False)
