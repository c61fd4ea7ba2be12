"""``changewright scales``: which scales fit a chord, and which chords fit a scale."""

from collections.abc import Iterable
from typing import Annotated

import typer
from rich.table import Table

from changewright.cli.speak import console, print_json
from changewright.errors import InputError
from changewright.music.document import Document

__all__ = ["scales"]

_ADVICE = "Pass through a note that is to be handled with care, or keep it for a resolution."


def scales(
    chord: Annotated[str | None, typer.Argument(help="A chord symbol, such as C7(b9).")] = None,
    of: Annotated[
        str | None, typer.Option("--of", help="A scale instead: which chords fit 'F mixolydian'?")
    ] = None,
    every_note: Annotated[
        bool, typer.Option("--every-note", help="With --of: chords on every note of the scale.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Which scales fit a chord, with what to handle with care; or which chords fit a scale."""
    from changewright.usecases.scales import chords_document, scales_document

    if (chord is None) == (of is None):
        raise InputError("name one chord, or one scale with --of")
    if of is not None:
        document = chords_document(of, on_every_note=every_note)
    else:
        document = scales_document(chord or "")
    if as_json:
        print_json(document)
    elif of is not None:
        _print_chords(document)
    else:
        _print_scales(document)


def _print_scales(document: Document) -> None:
    out = console()
    out.print(f"{document['chord']}: {' '.join(document['tones'])}", markup=False)
    if not document["scales"]:
        out.print("No scale that we know holds all of these notes on this root.")
        return
    table = _table("scale", "notes", "adds", "where it comes from", "handle with care")
    for one in document["scales"]:
        notes, adds = " ".join(one["tones"]), " ".join(one["adds"])
        table.add_row(one["scale"], notes, adds, one["family"], _care(one["care"]))
    out.print(table)
    out.print(f"\n{_ADVICE}", markup=False)


def _print_chords(document: Document) -> None:
    out = console()
    out.print(f"{document['scale']}: {' '.join(document['tones'])}", markup=False)
    table = _table("chord", "tones", "handle with care in the scale")
    for one in document["chords"]:
        table.add_row(one["chord"], " ".join(one["tones"]), _care(one["care"]))
    out.print(table)
    out.print(f"\n{_ADVICE}", markup=False)


def _table(*columns: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def _care(care: Iterable[Document]) -> str:
    """What rubs against what; the advice, the same for all, stands under the table."""
    return "; ".join(one["reason"].split(":")[0] for one in care)
