"""Pitch over time as a picture: the line that was played, the notes asked for as open boxes, and
the chord tones of each change as grey bands with their degrees. It says nothing by colour.

Lengths are in the engraver's drawing units, y downwards; pitches are MIDI numbers, time is quarters
from the start of the chorus.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from typing import TypeVar

from changewright.page._verovio import STAFF_SPACE

__all__ = ["Band", "Box", "PitchPicture", "pitch_svg"]

_SEMITONE = 0.95 * STAFF_SPACE
_LABEL = 1.3 * STAFF_SPACE
_DROP = 0.36 * _LABEL  # from a middle line to the base line of a figure
_EDGE = 0.6 * STAFF_SPACE
_BAND = "#e3e3e3"
_LINE, _BOX, _RULE = 60, 18, 18


@dataclass(frozen=True, slots=True)
class Band:
    """A chord tone through the time of its change, with its degree as a label. ``tied`` leaves
    the label out where the same chord only goes on."""

    start: float
    end: float
    midi: int
    label: str
    tied: bool = False


@dataclass(frozen=True, slots=True)
class Box:
    """A note that the page asks for: an open box from its start to its end."""

    start: float
    end: float
    midi: int


Lying = TypeVar("Lying", Band, Box)


@dataclass(frozen=True, slots=True)
class PitchPicture:
    """What is drawn under one system.

    ``anchors`` are (quarters, x) in order: where each sign of the system above stands, so that
    the picture lies under its notes. ``strokes`` are unbroken lines of (quarters, pitch).
    ``names`` are labels at the left, (MIDI number, text). ``bars`` are the x of the bar lines.
    """

    width: float
    anchors: tuple[tuple[float, float], ...]
    bars: tuple[float, ...]
    bands: tuple[Band, ...]
    boxes: tuple[Box, ...]
    strokes: tuple[tuple[tuple[float, float], ...], ...]
    names: tuple[tuple[int, str], ...]
    low: int
    high: int

    @property
    def height(self) -> float:
        """The height of the picture."""
        return (self.high - self.low + 1) * _SEMITONE + 2 * _EDGE

    def x(self, at: float) -> float:
        """Where an instant lies: between the signs of the system above."""
        anchors = self.anchors
        for (a, left), (b, right) in pairwise(anchors):
            if at < b:
                return left + (right - left) * max(0.0, at - a) / (b - a)
        return anchors[-1][1]

    def y(self, midi: float) -> float:
        """Where a pitch lies."""
        return _EDGE + (self.high + 0.5 - midi) * _SEMITONE


def pitch_svg(picture: PitchPicture, *, title: str) -> str:
    """Draw the picture as SVG, ``title`` its words for who can't see it."""
    return "".join(
        (
            '<svg xmlns="http://www.w3.org/2000/svg" role="img" '
            f'viewBox="0 0 {picture.width:.0f} {picture.height:.0f}" '
            f'aria-label="{escape(title)}"><title>{escape(title)}</title>',
            *_bands(picture),
            *_bars(picture),
            *_boxes(picture),
            *_strokes(picture),
            *_labels(picture),
            "</svg>",
        )
    )


def _bands(picture: PitchPicture) -> Iterator[str]:
    for band in _within(picture.bands, picture):
        left, right = picture.x(band.start), picture.x(band.end)
        yield _rect(left, right, picture.y(band.midi + 0.42), 0.84 * _SEMITONE, f'fill="{_BAND}"')


def _bars(picture: PitchPicture) -> Iterator[str]:
    back = 0.3 * STAFF_SPACE  # leaves the room before the first note to the degrees
    path = "".join(f"M{x - back:.0f} 0V{picture.height:.0f}" for x in picture.bars)
    yield f'<path d="{path}" stroke="#000" stroke-width="{_RULE}" fill="none"/>'


def _boxes(picture: PitchPicture) -> Iterator[str]:
    style = f'fill="none" stroke="#000" stroke-width="{_BOX}"'
    for box in _within(picture.boxes, picture):
        left, right = picture.x(box.start), picture.x(box.end)
        yield _rect(left, right - _BOX, picture.y(box.midi + 0.5), _SEMITONE, style)


def _strokes(picture: PitchPicture) -> Iterator[str]:
    paths = "".join(_path(stroke, picture) for stroke in picture.strokes)
    style = 'stroke-linecap="round" stroke-linejoin="round"'
    yield f'<path d="{paths}" fill="none" stroke="#000" stroke-width="{_LINE}" {style}/>'


def _path(stroke: Sequence[tuple[float, float]], picture: PitchPicture) -> str:
    inside = [(t, m) for t, m in stroke if picture.low - 0.6 <= m <= picture.high + 0.6]
    points = [f"{picture.x(t):.0f} {picture.y(m):.0f}" for t, m in inside]
    return f"M{'L'.join(points)}" if len(points) > 1 else ""


def _labels(picture: PitchPicture) -> Iterator[str]:
    for band in _within(picture.bands, picture):
        if not band.tied:
            left = picture.x(band.start) - 0.2 * STAFF_SPACE
            yield _text(left, picture.y(band.midi) + _DROP, band.label, "end")
    for midi, name in picture.names:
        if picture.low <= midi <= picture.high:
            yield _text(0, picture.y(midi) + _DROP, name, "start")


def _within(things: Iterable[Lying], picture: PitchPicture) -> Iterator[Lying]:
    return (t for t in things if picture.low <= t.midi <= picture.high)


def _rect(left: float, right: float, top: float, height: float, style: str) -> str:
    return (
        f'<rect x="{left:.0f}" y="{top:.0f}" width="{max(1, right - left):.0f}" '
        f'height="{height:.0f}" {style}/>'
    )


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" font-size="{_LABEL:.0f}" font-family="Edwin" '
        f'text-anchor="{anchor}">{escape(text, quote=False)}</text>'
    )
