"""``changewright read``: what a teacher says of a tune before the student plays a note."""

from typing import Annotated

import typer
from rich.table import Table

from changewright.cli.speak import console, print_json
from changewright.reading.analyse import analyse
from changewright.reading.document import reading_document
from changewright.reading.model import ReadChange, Reading
from changewright.usecases.charts import open_form

__all__ = ["print_reading", "read"]


def read(
    chart: Annotated[str, typer.Argument(help="A chart file, or a chart of the shelf by name.")],
    key: Annotated[str | None, typer.Option(help="Move the chart to this key first.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Read a chart: its changes with bar numbers, each chord's tones, scale and why."""
    reading = analyse(open_form(chart, key))
    if as_json:
        print_json(reading_document(reading))
    else:
        print_reading(reading)


def print_reading(reading: Reading) -> None:
    """The tune at a glance, then its changes as a table."""
    out = console()
    out.print(f"{reading.title}: {reading.key.words}, {len(reading.bars)} bars", markup=False)
    out.print(_table(reading))


def _table(reading: Reading) -> Table:
    """The changes as a table; a chord that goes on is not repeated."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("bar", "beat", "chord", "tones", "does", "first-choice scale", "because"):
        table.add_column(title, overflow="fold")
    before: ReadChange | None = None
    for one in reading.changes:
        if before is None or before.change.chord != one.change.chord:
            table.add_row(*_row(one))
        before = one
    return table


def _row(one: ReadChange) -> tuple[str, ...]:
    chord = one.change.chord
    place = (str(one.bar), one.beat, one.change.text)
    if chord.is_silent:
        return (*place, "", "no chord", "", "")
    tones = " ".join(str(tone) for tone in chord.tones)
    does = f"{one.numeral} in {one.key}"
    first = one.scales[0] if one.scales else None
    return (*place, tones, does, str(first.scale) if first else "", first.because if first else "")
