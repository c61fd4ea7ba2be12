"""Charts: reading, unrolling, MusicXML in and out, each beside a general-purpose toolkit."""

from collections.abc import Iterable
from importlib import import_module
from typing import Any

from benchmarks.figure import Figure, paired_ms
from changewright.chart.chart import Chart
from changewright.chart.musicxml import read_musicxml, write_musicxml
from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.music.bar import Bar

__all__ = ["figures"]

_PEER = "music21"
m21: Any = import_module(_PEER)  # its annotations don't cover what is called here


def figures() -> Iterable[Figure]:
    """A 32-bar AABA with repeats and endings, two chords a bar."""
    chart = shelf_chart("harbourmasters-round")
    yield from _text(chart)
    yield from _musicxml(chart)


def _pair(name: str, ours: float, peer: float) -> Iterable[Figure]:
    yield Figure(f"chart.{name}_ms", ours, "ms", _PEER, peer)
    yield Figure(f"chart.{name}_vs_toolkit", peer / ours, "times")


def _text(chart: Chart) -> Iterable[Figure]:
    """Text to bars as played; the toolkit builds and expands the same bars from its own symbols."""
    text = write_chart(chart)
    bars = unroll(chart).bars
    symbols = [[_figure(c.text) for c in bar.changes] for bar in bars]
    assert len(unroll(read_chart(text)).bars) == 32
    ours, peer = paired_ms(
        lambda: unroll(read_chart(text)), lambda: _built(bars, symbols).flatten(), times=5
    )
    yield from _pair("read_and_unroll", ours, peer)


def _figure(text: str) -> str:
    """The symbol in the toolkit's spelling: flats are minus signs, no parentheses."""
    root = text[:2].replace("b", "-") if text[1:2] == "b" else text[:1]
    return (root + text[len(root) :]).replace("(b9)", "b9")


def _built(bars: Iterable[Bar], symbols: list[list[str]]) -> Any:
    part = m21.stream.Part()
    for bar, row in zip(bars, symbols, strict=True):
        measure = m21.stream.Measure(number=bar.number)
        for change, symbol in zip(bar.changes, row, strict=True):
            measure.insert(change.onset - bar.start, m21.harmony.ChordSymbol(symbol))
        part.append(measure)
    return part


def _musicxml(chart: Chart) -> Iterable[Figure]:
    text = write_musicxml(chart)
    content = text.encode()
    score = m21.converter.parse(text, format="musicxml")
    assert len(read_musicxml(content).bars) == len(score.parts[0].getElementsByClass("Measure"))
    exporter = m21.musicxml.m21ToXml.GeneralObjectExporter
    ours, peer = paired_ms(lambda: write_musicxml(chart), lambda: exporter(score).parse(), times=5)
    yield from _pair("musicxml_write", ours, peer)
    ours, peer = paired_ms(lambda: read_musicxml(content), lambda: _imported(text), times=5)
    yield from _pair("musicxml_read", ours, peer)


def _imported(text: str) -> Any:
    """Import without the toolkit's cache of files it has seen."""
    importer = m21.musicxml.xmlToM21.MusicXMLImporter()
    importer.xmlText = text
    importer.parseXMLText()
    return importer.stream
