"""Our own text on the page, measured by its face, so that it can be set clear of other things.

Lengths are in the engraver's drawing units, y downwards.
"""

from dataclasses import dataclass
from functools import lru_cache

from changewright.page.drawing import Box
from changewright.page.look import Face, text_width
from changewright.page.symbol import Run

__all__ = ["Text", "moved", "set_text"]

_TALL, _DEEP = 0.86, 0.22  # parentheses and accidentals, as shares of the size


@dataclass(frozen=True, slots=True)
class Text:
    """A text in place: ``x`` is its left edge, ``y`` its base line. ``boxed`` draws a frame."""

    kind: str
    x: float
    y: float
    size: float
    face: Face
    runs: tuple[Run, ...]
    box: Box
    boxed: bool = False


def set_text(
    kind: str,
    x: float,
    size: float,
    face: Face,
    runs: tuple[Run, ...],
    *,
    cap: float,
    pad: float = 0,
) -> Text:
    """A text on base line 0 with its box; ``cap`` is the height of the face's capitals as a
    share of the size, ``pad`` puts a frame around the text."""
    width, top, bottom = _measured(size, face, runs, cap)
    box = Box(x - pad, top - pad, x + width + pad, bottom + pad)
    return Text(kind, x, 0, size, face, runs, box, pad > 0)


@lru_cache(maxsize=4096)
def _measured(
    size: float, face: Face, runs: tuple[Run, ...], cap: float
) -> tuple[float, float, float]:
    """Width, top and bottom of runs on base line 0; a page repeats the same few."""
    width = sum(text_width(r.text, r.face or face, size * r.scale) for r in runs)
    top = min(-size * (r.rise + r.scale * _ascent(r.text, cap)) for r in runs)
    bottom = max(size * (r.scale * _descent(r.text) - r.rise) for r in runs)
    return width, top, bottom


def moved(text: Text, y: float) -> Text:
    """The text on another base line, counted from its own."""
    t, box = text, text.box.moved(0, y)
    return Text(t.kind, t.x, t.y + y, t.size, t.face, t.runs, box, t.boxed)


def _ascent(text: str, cap: float) -> float:
    """How far a text rises over its base line, as a share of its size."""
    return max(cap, _TALL) if set(text) & set("()♭♯/") else cap


def _descent(text: str) -> float:
    """How far a text hangs below its base line, as a share of its size."""
    return _DEEP if set(text) & set("/(),jgpqy♭♯") else 0.02
