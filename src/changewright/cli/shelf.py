"""``changewright shelf``: the charts that come with the package."""

from typing import Annotated

import typer
from rich.table import Table

from changewright.chart.chart import Chart
from changewright.chart.shelf import shelf as shelf_names
from changewright.chart.shelf import shelf_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.cli.speak import console, print_json
from changewright.music.document import Document

__all__ = ["shelf"]


def shelf(
    name: Annotated[
        str | None, typer.Argument(help="Print this chart's text, to copy and change.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """List the charts that come with the package, or print one."""
    if name is not None:
        typer.echo(write_chart(shelf_chart(name)), nl=False)
        return
    charts = [_document(one, shelf_chart(one)) for one in shelf_names()]
    if as_json:
        print_json(charts)
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in ("name", "title", "key", "meter", "bars", "feel"):
        table.add_column(column)
    for chart in charts:
        table.add_row(*(str(value) for value in chart.values()))
    console().print(table)


def _document(name: str, chart: Chart) -> Document:
    form = unroll(chart)
    return {
        "name": name,
        "title": chart.title,
        "key": str(chart.key) if chart.key else "",
        "meter": str(form.bars[-1].meter),
        "bars": len(form.bars),
        "feel": chart.feel,
    }
