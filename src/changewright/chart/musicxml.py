"""Lead sheets in MusicXML, in and out."""

import io
import zipfile

from changewright.chart.chart import Chart
from changewright.chart.musicxml_in import read_musicxml
from changewright.chart.musicxml_out import laid_out, write_musicxml

__all__ = ["laid_out", "read_musicxml", "write_musicxml", "write_mxl"]

_CONTAINER = """\
<?xml version="1.0" encoding="UTF-8"?>
<container>
  <rootfiles>
    <rootfile full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/>
  </rootfiles>
</container>
"""


def write_mxl(chart: Chart) -> bytes:
    """Write a chart as compressed MusicXML: the same chart, the same bytes.

    Source: MusicXML 4.0, container format.
    """
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        _add(archive, "mimetype", "application/vnd.recordare.musicxml", zipfile.ZIP_STORED)
        _add(archive, "META-INF/container.xml", _CONTAINER)
        _add(archive, "score.musicxml", write_musicxml(chart))
    return packed.getvalue()


def _add(
    archive: zipfile.ZipFile, name: str, text: str, packing: int = zipfile.ZIP_DEFLATED
) -> None:
    entry = zipfile.ZipInfo(name)  # its date is fixed, and so are the bytes
    archive.writestr(entry, text, packing)
