"""Lead sheets in MusicXML, in and out."""

from changewright.chart.musicxml_in import read_musicxml
from changewright.chart.musicxml_out import laid_out, write_musicxml

__all__ = ["laid_out", "read_musicxml", "write_musicxml"]
