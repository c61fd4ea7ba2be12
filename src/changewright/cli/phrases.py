"""``changewright phrases``: the library of phrases, what fits a chart, what a solo holds."""

from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from changewright.cli.speak import console, print_json
from changewright.music.document import Document

__all__ = ["app", "find", "list_all", "take"]

app = typer.Typer(
    help="A library of phrases: list it, find what fits a chart, take a teacher's own.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Own = Annotated[Path | None, typer.Option("--phrases", help="A folder with phrases of your own.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON.")]


@app.command("list")
def list_all(phrases: Own = None, as_json: AsJson = False) -> None:
    """Every phrase by name, with what it is good for."""
    from changewright.usecases.phrases import list_phrases

    document = list_phrases(phrases)
    if as_json:
        print_json(document)
    else:
        _print(document)


@app.command()
def find(
    chart: Annotated[str, typer.Argument(help="A chart file, or a chart of the shelf by name.")],
    key: Annotated[str | None, typer.Option(help="Concert key; the chart's own if none.")] = None,
    instrument: Annotated[str, typer.Option("--for", help="The instrument.")] = "piano",
    level: Annotated[int, typer.Option(help="The curriculum's level, 1 to 8.")] = 8,
    phrases: Own = None,
    as_json: AsJson = False,
) -> None:
    """The phrases that fit a chart, and in which bars."""
    from changewright.usecases.phrases import find_phrases

    document = find_phrases(chart, key=key, instrument=instrument, number=level, folder=phrases)
    if as_json:
        print_json(document)
    elif document:
        _print(document)
        console().print("\n* the notes give way to the other mode")
    else:
        console().print("No phrase of the library fits these changes.")


@app.command()
def take(
    file: Annotated[Path, typer.Argument(help="A phrase or solo: text, MusicXML or MIDI.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="The folder of phrases.")],
    changes: Annotated[
        str | None, typer.Option(help="The chart that a MIDI file is played over.")
    ] = None,
    figures: Annotated[
        bool, typer.Option("--figures", help="Enclosures, approaches and guide-tone lines too.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Take the phrases of a file into a folder, one text file each."""
    from changewright.usecases.phrases import take_phrases

    document = take_phrases(file, output, changes=changes, figures=figures)
    if as_json:
        print_json(document)
        return
    out = console()
    for one in document["found"]:
        where = f"bar {one['bar']}, beat {one['beat']}"
        out.print(f"{where}: {one['kind']}, {' '.join(one['notes'])}", markup=False)
    for one in document["taken"]:
        out.print(f"{one['file']}: {', '.join(one['tags'])}", markup=False)
    out.print(f"Written to {output}", markup=False, soft_wrap=True)


def _print(phrases: list[Document]) -> None:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in ("name", "level", "from", "to", "good for"):
        table.add_column(column, overflow="fold")
    if "places" in phrases[0]:
        table.add_column("bars", overflow="fold")
    for one in phrases:
        row = [one["name"], str(one["level"]), one["starts"], one["ends"], ", ".join(one["tags"])]
        places = one.get("places", ())
        bars = ", ".join(f"{p['bar']}{'*' * p['adapted']}" for p in places)
        table.add_row(*row, *([bars] if places else []))
    console().print(table)
