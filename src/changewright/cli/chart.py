"""``changewright chart``: a chart in from text or MusicXML, moved, and out again."""

from pathlib import Path
from typing import Annotated

import typer

from changewright.cli.options import Instruments
from changewright.cli.speak import print_json

__all__ = ["chart"]


def chart(
    source: Annotated[
        str, typer.Argument(help="A chart file, text or MusicXML, or a chart of the shelf by name.")
    ],
    key: Annotated[str | None, typer.Option(help="Move it to this key.")] = None,
    part: Annotated[
        str | None, typer.Option(help="Write it out for this instrument, at written pitch.")
    ] = None,
    instruments: Instruments = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="A file: .txt, .musicxml or .mxl. None: print text."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Read a chart, move it to a key or a part, and write it as text or MusicXML.

    A melody comes along, from and to MusicXML as well.
    """
    from changewright.usecases.chart_files import chart_document, chart_for, write_chart_file
    from changewright.usecases.charts import open_chart
    from changewright.usecases.instruments import named_instrument

    moved = open_chart(source, key)
    if part is not None:
        moved = chart_for(moved, named_instrument(part, instruments))
    if output is not None:
        write_chart_file(moved, output, source)
    document = chart_document(moved, output)
    if as_json:
        print_json(document)
    elif output is None:
        typer.echo(document["text"], nl=False)
    else:
        typer.echo(
            f"{document['title']}: {document['key'] or 'no key'}, {document['meter']}, "
            f"{document['bars_played']} bars as played, {document['melody_notes']} melody notes"
        )
        typer.echo(f"Written to {output}.")
