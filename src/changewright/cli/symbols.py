"""``changewright symbols``: chord symbols in, pitch classes out."""

import sys
from typing import Annotated

import typer

from changewright.cli.speak import console, print_json
from changewright.usecases.symbols import symbol_documents

__all__ = ["symbols"]


def symbols(
    texts: Annotated[
        list[str] | None, typer.Argument(help="Symbols; none: one a line from standard input.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Read chord symbols and print their tones, pitch classes and bass.

    A symbol that can't be read gets its error in its place; the exit status is then 2.
    """
    documents = symbol_documents(texts or (line.strip() for line in sys.stdin if line.strip()))
    if as_json:
        print_json(documents)
    else:
        for one in documents:
            pcs = " ".join(map(str, one["pcs"])) if one["pcs"] is not None else one["error"]
            bass = f"  over {one['bass']}" if one["bass"] is not None else ""
            console().print(f"{one['text']}\t{pcs}{bass}", soft_wrap=True, markup=False)
    if any(one["error"] for one in documents):
        raise typer.Exit(2)
