"""Move a chart, for another key or another player, and write it down as text or as MusicXML."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from changewright.chart.chart import Chart
from changewright.chart.musicxml import write_musicxml, write_mxl
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.chart.written import Sung
from changewright.errors import ChartError, InputError, Place
from changewright.music.document import Document
from changewright.theory.instrument import Instrument
from changewright.theory.pitch import Interval
from changewright.theory.transposition import transpose_key_for, written_shift
from changewright.usecases.folder import whole_file

__all__ = ["WRITERS", "chart_document", "chart_for", "write_chart_file"]

WRITERS: dict[str, Callable[[Chart], bytes]] = {
    ".txt": lambda chart: write_chart(chart).encode(),
    ".musicxml": lambda chart: write_musicxml(chart).encode(),
    ".xml": lambda chart: write_musicxml(chart).encode(),
    ".mxl": write_mxl,
}
"""What a chart can be written as, by the ending of the file's name."""


def chart_for(chart: Chart, player: Instrument) -> Chart:
    """Write a chart out as a player reads it: changes and melody at written pitch.

    The melody moves by the player's own transposition, the octave included; the title says whose
    part it is. Raises :class:`ChartError` where a chart that names no key would have to move.
    """
    part = f"{chart.title}, for {player.name}"
    if player.written_up == Interval(0, 0):
        return replace(chart, title=part)
    if chart.key is None:
        raise ChartError(
            f"{chart.title!r} names no key, so no part can be written out for {player.name}",
            remedy="Write its key in the heading, such as 'key: F'.",
        )
    moved = transpose_chart(chart, transpose_key_for(player, chart.key))
    up = written_shift(player, chart.key).semitones
    higher = Interval(0, (up - _short_way(up)) // 12)
    bars = (replace(bar, melody=tuple(_sung(s, higher) for s in bar.melody)) for bar in moved.bars)
    return replace(moved, title=part, bars=tuple(bars))


def _sung(piece: Sung, higher: Interval) -> Sung:
    return piece if piece.pitch is None else replace(piece, pitch=piece.pitch + higher)


def _short_way(semitones: int) -> int:
    """The way by which a chart moves: up to a tritone up, else down."""
    up = semitones % 12
    return up if up <= 6 else up - 12


def write_chart_file(chart: Chart, path: Path, source: str = "") -> None:
    """Write a chart to a file, whole or not at all; the ending of its name says as what.

    ``source`` is where the chart came from: it is never overwritten, for canonical text has no
    comments. Raises :class:`InputError` for an ending that we don't write.
    """
    writer = WRITERS.get(path.suffix.lower())
    if writer is None:
        raise InputError(
            f"can't write a chart as {path.suffix or 'a file without an ending'!r}",
            where=Place(file=path.name),
            remedy=f"Give the file one of the endings {', '.join(WRITERS)}.",
        )
    if source and path.exists() and path.samefile(source):
        raise InputError(
            "this is the chart itself, and its comments would be lost",
            where=Place(file=path.name),
            remedy="Choose another name with --output.",
        )
    whole_file(path, writer(chart))


def chart_document(chart: Chart, written_to: Path | None = None) -> Document:
    """A chart at a glance, and its canonical text."""
    form = unroll(chart)
    return {
        "title": chart.title,
        "key": None if chart.key is None else str(chart.key),
        "meter": str(chart.meter),
        "tempo_bpm": chart.tempo_bpm,
        "feel": chart.feel,
        "rights": chart.rights,
        "form": list(chart.form),
        "sections": list(chart.sections),
        "bars_written": len(chart.bars),
        "bars_played": len(form.bars),
        "melody_notes": sum(
            piece.pitch is not None and not piece.held for bar in chart.bars for piece in bar.melody
        ),
        "written_to": None if written_to is None else str(written_to),
        "text": write_chart(chart),
    }
