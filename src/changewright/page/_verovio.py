"""The engraver behind one door: MEI in, a drawing out.

The toolkit is made at first use and kept; one a thread, because it is not shared safely.
"""

import threading
from pathlib import Path
from typing import Any

from changewright.errors import EngineError

__all__ = ["STAFF_SPACE", "STAFF_WIDTH", "engrave"]

STAFF_SPACE = 180.0
"""One staff space in the engraver's drawing units."""

STAFF_WIDTH = 18500
"""The width of a full system in the engraver's drawing units: about 103 staff spaces."""

_OPTIONS: dict[str, object] = {
    "breaks": "encoded",
    "pageHeight": 60000,
    "header": "none",
    "footer": "none",
    "svgViewBox": True,
    "svgFormatRaw": True,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "smuflTextFont": "none",
    "minLastJustification": 0,
    "mnumInterval": 0,
    "xmlIdChecksum": True,
    "staffLineWidth": 0.22,
    "stemWidth": 0.24,
    "barLineWidth": 0.34,
    "tieMinLength": 3.0,
    "lyricSize": 4.2,
    "lyricWordSpace": 0.9,
    "measureMinWidth": 8,
}
_held = threading.local()


def engrave(mei: str, music_font: str, width: int = STAFF_WIDTH) -> str:
    """Engrave MEI at a width in drawing units; one SVG with all systems, one below the other.

    Raises :class:`EngineError` where the engraver refuses its input; that is a fault of ours.
    """
    toolkit = _toolkit()
    if not toolkit.setOptions({"font": music_font, "pageWidth": width // 10}):
        raise EngineError(f"the engraver refused the music font {music_font!r}")
    if not toolkit.loadData(mei):
        raise EngineError("the engraver could not read the notation that it was given")
    drawing: str = toolkit.renderToSVG(1)
    if not drawing:
        raise EngineError("the engraver drew nothing")
    return drawing


def _toolkit() -> Any:
    if not hasattr(_held, "toolkit"):
        import verovio

        verovio.enableLog(verovio.LOG_OFF)
        # PITFALL: outside the main thread the toolkit forgets where its fonts lie.
        toolkit = verovio.toolkit(False)
        toolkit.setResourcePath(str(Path(verovio.__file__).parent / "data"))
        toolkit.setOptions(_OPTIONS)
        _held.toolkit = toolkit
    return _held.toolkit
