"""Find boxes that stand for a missing sign among the outlines of a finished PDF.

A font answers for a sign that it lacks with its glyph 0, ``.notdef``: most often an empty or a
crossed box. As text that is seen by its number (``book_checker.missing_glyphs``); drawn as an
outline, as all music is, it is only a shape. Two looks at each filled path, on pages as PDFium
reads them: is it the outline of glyph 0 of any font at hand, and is it a hollow upright box?
"""

import ctypes
from collections.abc import Iterator, Sequence
from functools import cache
from importlib.resources import files
from itertools import pairwise

import pypdfium2
import pypdfium2.raw as pdfium
from fontTools.pens.recordingPen import RecordingPen
from fontTools.ttLib import TTFont

Point = tuple[float, float]
Ring = tuple[Point, ...]
"""The end and control points of one closed stretch of a path, in order."""

_NEAR = 0.02  # of the path's size
_FONTS = files("changewright.page") / "fonts"


def missing_boxes(pdf: bytes) -> list[str]:
    """Where an outline stands that says that a sign is missing: ``page 3: a hollow box``."""
    found = []
    for number, page in enumerate(pypdfium2.PdfDocument(pdf), start=1):
        for rings in _filled(page):
            if _is_known(rings):
                found.append(f"page {number}: the outline of glyph 0")
            elif _is_hollow_box(rings):
                found.append(f"page {number}: a hollow box")
    return found


def path_count(pdf: bytes) -> int:
    """How many filled paths there are to look at."""
    return sum(1 for page in pypdfium2.PdfDocument(pdf) for _ in _filled(page))


def notdef_rings(font: TTFont) -> tuple[Ring, ...]:
    """Glyph 0 of a font as rings; empty where the font draws nothing for it."""
    pen = RecordingPen()
    font.getGlyphSet()[".notdef"].draw(pen)
    rings: list[list[Point]] = []
    for command, points in pen.value:
        if command == "moveTo":
            rings.append([])
        rings[-1] += points
    return tuple(map(tuple, rings))


@cache
def _known() -> tuple[tuple[Ring, ...], ...]:
    """Glyph 0 of all our text faces; the music faces come as single signs, without one."""
    fonts = (TTFont(str(f)) for f in _FONTS.iterdir() if f.name.endswith((".otf", ".ttf")))
    drawn = (notdef_rings(font) for font in fonts)
    return tuple(_shaped(rings) for rings in drawn if rings)


def _is_known(rings: Sequence[Ring]) -> bool:
    shape = None
    for known in _known():
        if len(known) == len(rings) and list(map(len, known)) == list(map(len, rings)):
            shape = shape or _shaped(rings)
            if all(_alike(a, b) for a, b in zip(shape, known, strict=True)):
                return True
    return False


def _alike(one: Ring, other: Ring) -> bool:
    return all(
        abs(x - u) < _NEAR and abs(y - v) < _NEAR for (x, y), (u, v) in zip(one, other, strict=True)
    )


def _shaped(rings: Sequence[Ring]) -> tuple[Ring, ...]:
    """The rings moved to the origin and as high as 1, whatever their place and size were."""
    xs, ys = zip(*(point for ring in rings for point in ring), strict=True)
    left, low, height = min(xs), min(ys), max(ys) - min(ys) or 1.0
    return tuple(
        tuple(((x - left) / height, (y - low) / height) for x, y in ring) for ring in rings
    )


def _is_hollow_box(rings: Sequence[Ring]) -> bool:
    """An upright rectangle, about as high as a letter is, with something cut out inside it."""
    for ring in rings:
        left, low, right, high = _bounds(ring)
        if not _is_rectangle(ring) or not 0.4 < (high - low) / (right - left) < 3:
            continue
        for other in rings:
            inner = _bounds(other)
            beside = left < inner[0] and inner[2] < right
            if other is not ring and beside and low < inner[1] and inner[3] < high:
                return True
    return False


def _is_rectangle(ring: Ring) -> bool:
    corners = list(dict.fromkeys(ring))
    if len(corners) != 4:
        return False
    left, low, right, high = _bounds(ring)
    if right - left < 1e-6 or high - low < 1e-6:
        return False
    return all((a[0] == b[0]) != (a[1] == b[1]) for a, b in pairwise([*corners, corners[0]]))


def _bounds(ring: Ring) -> tuple[float, float, float, float]:
    xs, ys = zip(*ring, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _filled(page: pypdfium2.PdfPage) -> Iterator[tuple[Ring, ...]]:
    count = pdfium.FPDFPage_CountObjects(page)
    for n in range(count):
        yield from _paths(pdfium.FPDFPage_GetObject(page, n))


def _paths(thing: object) -> Iterator[tuple[Ring, ...]]:
    """The filled paths of an object and of what it holds. A matrix only moves and scales them."""
    kind = pdfium.FPDFPageObj_GetType(thing)
    if kind == pdfium.FPDF_PAGEOBJ_FORM:
        for n in range(pdfium.FPDFFormObj_CountObjects(thing)):
            yield from _paths(pdfium.FPDFFormObj_GetObject(thing, n))
    elif kind == pdfium.FPDF_PAGEOBJ_PATH:
        fill, stroke = ctypes.c_int(), ctypes.c_int()
        pdfium.FPDFPath_GetDrawMode(thing, fill, stroke)
        if fill.value:
            rings = tuple(_rings(thing))
            if rings:
                yield rings


def _rings(path: object) -> Iterator[Ring]:
    x, y = ctypes.c_float(), ctypes.c_float()
    ring: list[Point] = []
    for n in range(pdfium.FPDFPath_CountSegments(path)):
        segment = pdfium.FPDFPath_GetPathSegment(path, n)
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        if pdfium.FPDFPathSegment_GetType(segment) == pdfium.FPDF_SEGMENT_MOVETO and ring:
            yield _open(ring)
            ring = []
        ring.append((x.value, y.value))
    if ring:
        yield _open(ring)


def _open(ring: list[Point]) -> Ring:
    """Without the way back to the start, which some writers draw and some only close."""
    return tuple(ring[:-1] if len(ring) > 1 and ring[0] == ring[-1] else ring)
