"""Load a chart from a file, whatever it holds: our text or a MusicXML lead sheet."""

import codecs
from pathlib import Path

from changewright.chart.chart import Chart
from changewright.chart.musicxml_in import read_musicxml
from changewright.chart.reader import read_chart
from changewright.chart.xml_door import is_zip
from changewright.errors import ChartError, Place

__all__ = ["MOST_BYTES", "decode_chart", "load_chart"]

MOST_BYTES = 16_000_000
"""The largest file that is opened: a long score in MusicXML, and still read in seconds."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def load_chart(path: Path | str) -> Chart:
    """Load a chart, deciding by content what it is.

    Raises :class:`ChartError` for a file that is missing, too large, or no chart.
    """
    path = Path(path)
    return decode_chart(_bytes(path), path.name)


def decode_chart(content: bytes, name: str) -> Chart:
    """Read a chart from the bytes of a file; ``name`` is its name for messages.

    Raises :class:`ChartError` for bytes that are no chart.
    """
    if is_zip(content):
        return read_musicxml(content, name)
    encoding = next((e for mark, e in _MARKS if content.startswith(mark)), "utf-8")
    opening = content[:400].decode(encoding, "ignore").lstrip()
    if opening.startswith("<"):
        return read_musicxml(content, name)
    return read_chart(_decode(content, encoding, name), name)


def _bytes(path: Path) -> bytes:
    where = Place(path.name)
    if not path.is_file():
        raise ChartError(f"there is no file {str(path)!r}", where=where, remedy="Check its name.")
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        why = error.strerror or "it can't be opened"
        raise ChartError(why, where=where, remedy="Check who may read it.") from None
    if len(content) > MOST_BYTES:
        raise ChartError(
            f"more than {MOST_BYTES:,} bytes are too many for a chart",
            where=where,
            remedy="Save the lead sheet alone, without pictures or other parts.",
        )
    return content


def _decode(content: bytes, encoding: str, name: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise ChartError(
            "this isn't text in UTF-8",
            where=Place(name, line),
            remedy="Save the chart as plain text in UTF-8 (or in UTF-16 with its byte order mark).",
        ) from None
