"""Measure a finished system from its SVG alone, and find what a copyist would cross out.

Independent of the layout: letters are measured by fontTools on the shipped fonts, music signs by
the bounding boxes that the engraver publishes with its fonts, paths by fontTools' pens.
"""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import combinations
from pathlib import Path

import verovio
from fontTools.pens.boundsPen import BoundsPen
from fontTools.svgLib.path import parse_path
from fontTools.ttLib import TTFont

SPACE = 180
_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_FONTS = files("changewright.page") / "fonts"


@dataclass(frozen=True)
class Ink:
    """What is printed where: kind, text, and the box left, top, right, bottom."""

    kind: str
    text: str
    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: "Ink", room: float = 0.0) -> bool:
        return (
            self.left < other.right + room
            and other.left < self.right + room
            and self.top < other.bottom + room
            and other.top < self.bottom + room
        )


def inks(svg: str, music_font: str) -> list[Ink]:
    """Everything printed in a system but staff and bar lines."""
    root = ET.fromstring(svg)
    found: list[Ink] = []
    for element in root.iter():
        tag = element.tag.removeprefix(_SVG)
        if tag == "use":
            found.append(_sign(element, music_font))
        elif tag == "text":
            found.append(_letters(element))
        elif tag == "path" and element.get("id") is None:
            found += _paths(element.attrib["d"])
    return found


def faults(svg: str, music_font: str) -> list[str]:
    """Overlaps of text with anything, signs that stand on each other, and ink off the page."""
    everything = inks(svg, music_font)
    texts = [
        i for i in everything if i.kind in ("figure", "symbol", "number", "label", "cue", "triplet")
    ]
    signs = [i for i in everything if i not in texts]
    found = [f"{a} meets {b}" for a, b in combinations(texts, 2) if a.overlaps(b, 0.1 * SPACE)]
    found += [f"{t} meets {s}" for t in texts for s in signs if t.overlaps(s, 0.1 * SPACE)]
    heads = [s for s in signs if s.kind == "sign" and s.text in ("E0A4", "E0A3", "E0A2")]
    accidentals = [s for s in signs if s.text in ("E260", "E261", "E262", "E263", "E264")]
    found += [f"{a} meets {b}" for a in heads for b in accidentals if a.overlaps(b)]
    left, top, width, height = map(float, ET.fromstring(svg).attrib["viewBox"].split())
    for ink in everything:
        if ink.left < left - 1 or ink.right > left + width + 30:
            found.append(f"{ink} leaves the page sideways")
        if ink.top < top or ink.bottom > top + height:
            found.append(f"{ink} leaves the system")
    return found


@cache
def _published(music_font: str) -> dict[str, tuple[float, float, float, float]]:
    path = Path(verovio.__file__).parent / "data" / f"{music_font}.xml"
    boxes = {}
    for glyph in ET.parse(path).iter("g"):
        code = glyph.attrib["c"]
        x, y, w, h = (float(glyph.attrib[k]) for k in "xywh")
        boxes[code] = (x, y, w, h)
    return boxes


def _sign(element: ET.Element, music_font: str) -> Ink:
    code = element.attrib[_HREF].removeprefix("#g")
    x, y, scale = map(float, re.findall(r"-?[\d.]+(?:e-?\d+)?", element.attrib["transform"]))
    left, low, width, height = _published(music_font)[code]
    return Ink(
        "sign",
        code,
        x + left * scale,
        y - (low + height) * scale,
        x + (left + width) * scale,
        y - low * scale,
    )


@cache
def _font(family: str, italic: bool) -> TTFont:
    name = {"Edwin": "edwin-italic" if italic else "edwin-roman"}.get(family, "petalumascript")
    return TTFont(str(_FONTS / f"{name}.otf"))


@cache
def _glyph_bounds(family: str, italic: bool, character: str):
    font = _font(family, italic)
    name = font.getBestCmap().get(ord(character))
    assert name is not None, f"{family} has no {character!r}: it would print as an empty box"
    pen = BoundsPen(font.getGlyphSet())
    font.getGlyphSet()[name].draw(pen)
    return font["hmtx"][name][0], pen.bounds


def _letters(element: ET.Element) -> Ink:
    x, y = float(element.attrib["x"]), float(element.attrib["y"])
    family, italic = element.attrib["font-family"], element.get("font-style") == "italic"
    size = float(element.attrib["font-size"])
    boxes = []
    for span in element.findall(f"{_SVG}tspan") or [element]:
        y += float(span.get("dy", 0))
        scale = float(span.get("font-size", size)) / 1000
        for character in span.text or "":
            advance, bounds = _glyph_bounds(family, italic, character)
            if bounds:
                boxes.append(
                    (
                        x + bounds[0] * scale,
                        y - bounds[3] * scale,
                        x + bounds[2] * scale,
                        y - bounds[1] * scale,
                    )
                )
            x += advance * scale
    kind = element.attrib["class"]
    text = "".join(element.itertext())
    return Ink(
        kind,
        text,
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )


def _paths(outline: str) -> Iterator[Ink]:
    for part in re.findall(r"M[^M]*", outline):
        pen = BoundsPen(None)
        parse_path(part, pen)
        if pen.bounds is None:
            continue
        left, top, right, bottom = pen.bounds
        staff_line = bottom - top < 1 and right - left > 4 * SPACE
        bar_line = right - left < 1 and abs(bottom - top - 4 * SPACE) < 1
        if not staff_line and not bar_line:
            yield Ink("path", part[:20], left, top, right, bottom)
