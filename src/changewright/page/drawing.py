"""What the engraver drew, as shapes with known boxes, so that text can be set clear of them.

Lengths are in the engraver's drawing units (180 to a staff space), y downwards.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple
from xml.parsers import expat

from changewright.errors import EngineError

__all__ = ["Box", "Drawing", "Glyph", "Shape", "read_drawings"]

_OWNERS = frozenset(("note", "harm", "dir", "rest", "mRest"))
_ORIGIN = (0.0, 0.0, 1.0)
_UNSEEN = (0.0, 0.0)
_PLACE = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\) scale\((-?[\d.]+)")
_NUMBER = re.compile(r"-?\d*\.?\d+(?:e-?\d+)?")
_COMMAND = re.compile(r"([MmLlHhVvCcSsQqTtZz])([^MmLlHhVvCcSsQqTtZz]*)")


class Box(NamedTuple):
    """A rectangle from left, top to right, bottom.

    PITFALL: a page has thousands of boxes and shapes; a named tuple is made in half the time of a
    frozen dataclass.
    """

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box", room: float = 0) -> bool:
        """True where the boxes come closer than ``room`` in both directions."""
        return (
            self.left < other.right + room
            and other.left < self.right + room
            and self.top < other.bottom + room
            and other.top < self.bottom + room
        )

    def moved(self, x: float, y: float, scale: float = 1) -> "Box":
        """The box scaled about the origin, then moved."""
        return Box(
            x + self.left * scale,
            y + self.top * scale,
            x + self.right * scale,
            y + self.bottom * scale,
        )


class Glyph(NamedTuple):
    """One sign of the music font, as its outline; ``code`` is its SMuFL code point in hex."""

    code: str
    outline: str
    box: Box


class Shape(NamedTuple):
    """One drawn thing: ``kind`` is its class in the notation (notehead, stem, tie ...), ``owner``
    the id of the note it belongs to. Exactly one of ``glyph`` and ``path`` is set; a path
    with ``stroke`` 0 is filled only."""

    kind: str
    owner: str
    box: Box
    glyph: Glyph | None = None
    at: tuple[float, float, float] = (0, 0, 1)
    path: str = ""
    stroke: float = 0
    filled: bool = True


@dataclass(slots=True)
class Drawing:
    """One system. ``bars`` are the left and right edges of its bars, ``anchors`` the places
    where the engraver made room for text, by id. ``top`` and ``bottom`` are the outer staff lines.
    """

    width: float
    top: float = 0
    bottom: float = 0
    shapes: list[Shape] = field(default_factory=list)
    bars: list[tuple[float, float]] = field(default_factory=list)
    anchors: dict[str, tuple[float, float]] = field(default_factory=dict)

    def heads(self) -> dict[str, Box]:
        """The note heads by the id of their note."""
        return {s.owner: s.box for s in self.shapes if s.kind == "notehead"}


def read_drawings(svg: str) -> list[Drawing]:
    """Take an engraved SVG apart, system by system; raises :class:`EngineError` where it is not as
    expected."""
    reader = _Reader()
    parser = expat.ParserCreate()
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.Parse(svg, True)
    if not reader.framed:
        raise EngineError("the engraver's drawing has no inner frame")
    return reader.drawings


class _Reader:
    """Gathers what is drawn as the SVG is read.

    PITFALL: a page has thousands of elements; a tree of them, walked afterwards, takes twice the
    time.
    """

    def __init__(self) -> None:
        self.drawings: list[Drawing] = []
        self.framed = False
        self._width = 0.0
        self._depth = 0  # of the frames that are open
        self._glyphs: dict[str, Glyph] = {}
        self._groups: list[tuple[str, str]] = [("", "")]  # kind and owner of each open group
        self._system = 0  # how many groups were open before the system; 0 outside of one
        self._defining = False
        self._sign = ""  # the sign that is being defined

    def start(self, tag: str, given: dict[str, str]) -> None:
        if tag == "g":
            self._enter(given)
        elif self._system:
            self._draw(tag, given)
        elif tag == "path" and self._defining:
            self._glyphs[self._sign] = _glyph(self._sign, given["d"])
        elif tag == "defs":
            self._defining = True
        elif tag == "svg":
            self._depth += 1
            if self._depth == 2 and not self.framed:
                self.framed, self._width = True, float(given["viewBox"].split()[2])

    def end(self, tag: str) -> None:
        if tag == "g":
            self._groups.pop()
            if len(self._groups) == self._system:
                self._system = 0
        elif tag == "defs":
            self._defining = False
        elif tag == "svg":
            self._depth -= 1

    def _enter(self, given: dict[str, str]) -> None:
        kind, owner = self._groups[-1]
        own = given.get("class")
        if own:
            kind = own.partition(" ")[0]
        if kind in _OWNERS:
            owner = given.get("id", "")
        elif self._defining:
            self._sign = given["id"].partition("-")[0]
        elif kind == "system" and not self._system:
            self._system, owner = len(self._groups), ""
            self.drawings.append(Drawing(self._width))
        elif kind == "staff" and own:
            self.drawings[-1].bars.append(_UNSEEN)
        self._groups.append((kind, owner))

    def _draw(self, tag: str, given: dict[str, str]) -> None:
        kind, owner = self._groups[-1]
        own = given.get("class")
        if own:
            kind = own.partition(" ")[0]
        drawing = self.drawings[-1]
        if tag == "use":
            drawing.shapes.append(_use(given, self._glyphs, kind, owner))
        elif tag == "text":
            if kind in ("harm", "dir"):
                drawing.anchors[owner] = float(given["x"]), float(given["y"])
        else:
            shape = _shape(given, tag, kind, owner)
            if shape is not None:
                drawing.shapes.append(shape)
                if kind == "staff":
                    _mark_staff(drawing, shape.box)


def _mark_staff(drawing: Drawing, line: Box) -> None:
    """Note where a bar begins and ends, and the outer lines, as the lines are drawn from above."""
    if drawing.bars[-1] is _UNSEEN:
        drawing.bars[-1] = (line.left, line.right)
        drawing.top = line.top
    drawing.bottom = line.top


@cache
def _glyph(code: str, outline: str) -> Glyph:
    box = _path_box(outline)
    return Glyph(code, outline, Box(box.left, -box.bottom, box.right, -box.top))


def _shape(given: dict[str, str], tag: str, kind: str, owner: str) -> Shape | None:
    stroke = float(given.get("stroke-width", "0"))
    if tag == "path":
        outline = given["d"]
        filled = stroke == 0 or "C" in outline
        return Shape(kind, owner, _path_box(outline), None, _ORIGIN, outline, stroke, filled)
    if tag in ("polygon", "polyline"):
        filled = tag == "polygon"
        outline = "M" + given["points"].strip() + ("Z" if filled else "")
        return Shape(kind, owner, _path_box(outline), None, _ORIGIN, outline, stroke, filled)
    if tag == "ellipse" and kind == "dots":
        return _dot(given, kind, owner)
    return None


def _use(given: dict[str, str], glyphs: dict[str, Glyph], kind: str, owner: str) -> Shape:
    glyph = glyphs[given["xlink:href"][1:].partition("-")[0]]
    match = _PLACE.match(given["transform"])
    if match is None:
        raise EngineError("the engraver placed a sign in a way that we can't follow")
    x, y, scale = map(float, match.groups())
    return Shape(kind, owner, glyph.box.moved(x, y, scale), glyph, (x, y, scale))


def _dot(given: dict[str, str], kind: str, owner: str) -> Shape:
    x, y, r = (float(given[a]) for a in ("cx", "cy", "rx"))
    outline = f"M{x - r:g},{y:g}a{r:g},{r:g} 0 1,0 {2 * r:g},0a{r:g},{r:g} 0 1,0 {-2 * r:g},0Z"
    return Shape(kind, owner, Box(x - r, y - r, x + r, y + r), None, _ORIGIN, outline)


def _path_box(outline: str) -> Box:
    """A box that holds a path: its end and control points, so a curve may stay well inside."""
    straight = outline.split(" ")  # most paths are one line: ``M0 540 L5738 540``
    if len(straight) == 4 and straight[2][0] == "L":
        x1, y1, x2, y2 = (
            float(straight[0][1:]), float(straight[1]), float(straight[2][1:]), float(straight[3]),
        )  # fmt: skip
        if x1 <= x2 and y1 <= y2:
            return Box(x1, y1, x2, y2)
        return Box(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))
    xs, ys = zip(*_points(outline), strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


def _points(outline: str) -> Iterator[tuple[float, float]]:
    x = y = start_x = start_y = 0.0
    for command, arguments in _COMMAND.findall(outline):
        numbers = [float(n) for n in _NUMBER.findall(arguments)]
        upper, relative = command.upper(), command.islower()
        if upper == "Z":
            x, y = start_x, start_y
            continue
        for points in _pairs(upper, numbers, x, y, relative):
            base_x, base_y = (x, y) if relative else (0.0, 0.0)
            for dx, dy in points:
                end = base_x + dx, base_y + dy
                yield end
            x, y = end
        if upper == "M":
            start_x, start_y = x, y


def _pairs(
    command: str, numbers: list[float], x: float, y: float, relative: bool
) -> Iterator[list[tuple[float, float]]]:
    if command == "H":
        yield from ([(n, 0.0 if relative else y)] for n in numbers)
    elif command == "V":
        yield from ([(0.0 if relative else x, n)] for n in numbers)
    else:
        size = {"C": 6, "S": 4, "Q": 4}.get(command, 2)
        for i in range(0, len(numbers) - size + 1, size):
            chunk = numbers[i : i + size]
            yield list(zip(chunk[::2], chunk[1::2], strict=True))
