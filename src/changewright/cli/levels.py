"""``changewright levels``: the eight levels of the curriculum, or one of them as a file to copy."""

from typing import Annotated

import typer

from changewright.cli.speak import console, print_json

__all__ = ["levels"]


def levels(
    number: Annotated[
        int | None, typer.Argument(help="Print this level's file, to copy and to change.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the list as JSON.")] = False,
) -> None:
    """List the levels, or print one as the file that a level of your own starts from."""
    from rich.table import Table

    from changewright.usecases.levels import level_text, levels_document

    document = levels_document()
    if as_json:
        print_json(document)
        return
    if number is not None:
        typer.echo(level_text(number), nl=False)
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    for head in ("Level", "Name", "Quarters a minute", "Widest leap", "Who"):
        table.add_column(head)
    for one in document:
        slow, fast = one["tempo_bpm"]
        leap = f"{one['widest_leap']} semitones"
        table.add_row(str(one["number"]), one["name"], f"{slow} to {fast}", leap, one["who"])
    console().print(table)
