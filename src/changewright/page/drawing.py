"""What the engraver drew, as shapes with known boxes, so that text can be set clear of them.

Lengths are in the engraver's drawing units (180 to a staff space), y downwards.
"""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from changewright.errors import EngineError

__all__ = ["Box", "Drawing", "Glyph", "Shape", "read_drawings"]

_SVG = "{http://www.w3.org/2000/svg}"
_GROUP, _USE, _TEXT, _PATH = f"{_SVG}g", f"{_SVG}use", f"{_SVG}text", f"{_SVG}path"
_POLYGON, _POLYLINE, _ELLIPSE = f"{_SVG}polygon", f"{_SVG}polyline", f"{_SVG}ellipse"
_OWNERS = frozenset(("note", "harm", "dir", "rest", "mRest"))
_ORIGIN = (0.0, 0.0, 1.0)
_HREF = "{http://www.w3.org/1999/xlink}href"
_PLACE = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\) scale\((-?[\d.]+)")
_STRAIGHT = re.compile(r"M(-?[\d.]+) (-?[\d.]+) L(-?[\d.]+) (-?[\d.]+)")
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
    root = ET.fromstring(svg)
    inner = root.find(f"{_SVG}svg")
    if inner is None:
        raise EngineError("the engraver's drawing has no inner frame")
    glyphs = {g.code: g for g in _glyphs(root)}
    width = float(inner.attrib["viewBox"].split()[2])
    drawings: list[Drawing] = []
    for group in inner.iter(f"{_SVG}g"):
        if group.get("class") == "system":
            drawings.append(Drawing(width))
            _walk(group, drawings[-1], glyphs, "system", "")
    return drawings


def _glyphs(root: ET.Element) -> Iterator[Glyph]:
    defs = root.find(f"{_SVG}defs")
    for group in defs if defs is not None else ():
        path = group.find(f"{_SVG}path")
        if path is not None:
            yield _glyph(group.attrib["id"].split("-")[0], path.attrib["d"])


@cache
def _glyph(code: str, outline: str) -> Glyph:
    box = _path_box(outline)
    return Glyph(code, outline, Box(box.left, -box.bottom, box.right, -box.top))


def _walk(
    group: ET.Element, drawing: Drawing, glyphs: dict[str, Glyph], kind: str, owner: str
) -> None:
    """Gather what a group draws. PITFALL: half the time of reading a drawing is spent here."""
    for element in group:
        tag, own = element.tag, element.get("class")
        inner = own.split()[0] if own else kind
        if tag == _GROUP:
            if inner == "staff":
                _enter_staff(element, drawing)
            name = element.get("id", "") if inner in _OWNERS else owner
            _walk(element, drawing, glyphs, inner, name)
        elif tag == _USE:
            drawing.shapes.append(_use(element, glyphs, inner, owner))
        elif tag == _TEXT:
            if inner in ("harm", "dir"):
                drawing.anchors[owner] = float(element.attrib["x"]), float(element.attrib["y"])
        else:
            shape = _shape(element, tag, inner, owner)
            if shape is not None:
                drawing.shapes.append(shape)


def _enter_staff(element: ET.Element, drawing: Drawing) -> None:
    lines = element.findall(_PATH)
    first, last = (_path_box(lines[i].attrib["d"]) for i in (0, -1))
    drawing.bars.append((first.left, first.right))
    drawing.top, drawing.bottom = first.top, last.top


def _shape(element: ET.Element, tag: str, kind: str, owner: str) -> Shape | None:
    stroke = float(element.get("stroke-width", "0"))
    if tag == _PATH:
        outline = element.attrib["d"]
        filled = "C" in outline or stroke == 0
        return Shape(kind, owner, _path_box(outline), None, _ORIGIN, outline, stroke, filled)
    if tag in (_POLYGON, _POLYLINE):
        filled = tag == _POLYGON
        outline = "M" + element.attrib["points"].strip() + ("Z" if filled else "")
        return Shape(kind, owner, _path_box(outline), None, _ORIGIN, outline, stroke, filled)
    if tag == _ELLIPSE and kind == "dots":
        return _dot(element, kind, owner)
    return None


def _use(element: ET.Element, glyphs: dict[str, Glyph], kind: str, owner: str) -> Shape:
    glyph = glyphs[element.attrib[_HREF][1:].partition("-")[0]]
    match = _PLACE.match(element.attrib["transform"])
    if match is None:
        raise EngineError("the engraver placed a sign in a way that we can't follow")
    x, y, scale = map(float, match.groups())
    return Shape(kind, owner, glyph.box.moved(x, y, scale), glyph, (x, y, scale))


def _dot(element: ET.Element, kind: str, owner: str) -> Shape:
    x, y, r = (float(element.attrib[a]) for a in ("cx", "cy", "rx"))
    outline = f"M{x - r:g},{y:g}a{r:g},{r:g} 0 1,0 {2 * r:g},0a{r:g},{r:g} 0 1,0 {-2 * r:g},0Z"
    return Shape(kind, owner, Box(x - r, y - r, x + r, y + r), None, (0, 0, 1), outline)


def _path_box(outline: str) -> Box:
    """A box that holds a path: its end and control points, so a curve may stay well inside."""
    straight = _STRAIGHT.fullmatch(outline)
    if straight:
        x1, y1, x2, y2 = map(float, straight.groups())
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
