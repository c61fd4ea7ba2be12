"""What every reader must keep under any input: a chart that stands up, or one clear error."""

import io
import zipfile
from collections.abc import Callable

from changewright.chart.chart import Chart
from changewright.chart.load import decode_chart
from changewright.chart.musicxml import write_musicxml
from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.errors import ChartError
from changewright.theory.key import Key
from changewright.theory.pitch import Name

__all__ = ["SEEDS", "TARGETS", "check_bytes", "check_text", "packed"]

FULL = """\
title: Fog Horn, Twice
by: Tuba, Thursday
key: Bbm
meter: 5/4
tempo: 132
feel: even eighths
rights: public domain, 1912
form: A B A
head in: Intro A B A
head out: A B Tag

pickup 3/2
| F7 |
section Intro
vamp 4 times
| Bbm7 <scale dorian> | % <in Db> |
end vamp
section A
repeat 3 times
| Bbm7 / / Eb7:3/2 Ab7:1/2 | Abmaj7 | / / Gb7 / / |
melody | Db5:3/2 Bb4:1/2 Ab4:1 -:2 | C5:5 | ~:1 - C5:1/3 Bb4 Ab4 Gb4:2 |
ending 1 and 2
| F7(b9) |
ending 3
| N.C. |
end repeat
section B
meter 3/4
key Ab
| Dbmaj7 / C7alt | Fm7 |
| Bb7 / Eb13 |
section Tag
meter 6/8
| Ab6/9 E\\Ab | Ab |
"""
JUMPS = """\
title: Fog Horn, Back Again
key: G

| G6 | Am7 |
sign
repeat
| Bm7 | E7 |
ending 1
| Am7 D7 |
ending 2
| G6 |
end repeat
to coda
| C9 | % |
back to the sign, then the coda

section Coda
coda
| G6 | % |
"""


def check_text(text: str) -> None:
    """Read a chart; whatever is read can be written, moved, played and exported."""
    try:
        chart = read_chart(text, "fuzz.txt")
    except ChartError as error:
        _check_error(error)
        return
    assert read_chart(write_chart(chart)) == chart
    _check_chart(chart)


def check_bytes(content: bytes) -> None:
    """Load a file of any kind."""
    try:
        chart = decode_chart(content, "fuzz.any")
    except ChartError as error:
        _check_error(error)
        return
    _check_chart(chart)


def _check_chart(chart: Chart) -> None:
    try:
        unroll(chart)
    except ChartError as error:
        _check_error(error)
    write_musicxml(chart)
    if chart.key is not None:
        moved = transpose_chart(chart, Key(Name(-6)))
        assert read_chart(write_chart(moved)) == moved


def _check_error(error: ChartError) -> None:
    message = str(error)
    assert message
    assert len(message) < 3000
    assert "Traceback" not in message


def packed(score: str) -> bytes:
    """A compressed score."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="s.xml"/></rootfiles></container>',
        )
        archive.writestr("s.xml", score)
    return content.getvalue()


def _texts() -> list[str]:
    return [FULL, JUMPS, *(write_chart(shelf_chart(name)) for name in shelf())]


def _scores() -> list[str]:
    return [write_musicxml(read_chart(text)) for text in _texts()]


SEEDS: dict[str, Callable[[], list[bytes]]] = {
    "text": lambda: [text.encode() for text in _texts()],
    "musicxml": lambda: [score.encode() for score in _scores()],
    "mxl": lambda: [packed(score) for score in _scores()[:6]],
}
TARGETS: dict[str, Callable[[bytes], None]] = {
    "text": lambda content: check_text(content.decode("utf-8", "replace")),
    "musicxml": check_bytes,
    "mxl": check_bytes,
}
