"""A laid-out system as SVG: outlines for music, live text for symbols and figures."""

import base64
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby

from changewright.page.drawing import Box, Shape
from changewright.page.look import Face, font_bytes, text_width
from changewright.page.symbol import Run
from changewright.page.text import Text

__all__ = ["Picture", "picture_svg", "stacked_svg"]

_STYLES: dict[Face, str] = {
    "edwin-roman": 'font-family="Edwin"',
    "edwin-bold": 'font-family="Edwin" font-weight="bold"',
    "edwin-italic": 'font-family="Edwin" font-style="italic"',
    "petalumascript": 'font-family="Petaluma Script"',
}
_FRAME = 26
_ROOT = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


@dataclass(frozen=True, slots=True)
class Picture:
    """What can be drawn: a frame of a width, with shapes and texts in it."""

    width: float
    frame: Box
    shapes: tuple[Shape, ...]
    texts: tuple[Text, ...]


def picture_svg(picture: Picture, *, title: str = "", embed: bool = False, under: str = "") -> str:
    """Draw a system or a row of changes. ``embed`` carries the fonts inside, for use elsewhere;
    ``under`` is SVG drawn beneath it."""
    frame = picture.frame
    return "".join(
        (
            f"{_ROOT} {_view(picture.width, frame.top, frame.bottom)}{_label(title)}>",
            f"<title>{escape(title)}</title>" if title else "",
            _font_style(picture.texts) if embed else "",
            *_inside(picture, under),
            "</svg>",
        )
    )


def stacked_svg(pictures: Sequence[Picture], *, title: str, gap: float) -> str:
    """Draw systems one below the other, ``gap`` apart, as one drawing with its fonts inside."""
    parts: list[str] = []
    bottom = 0.0
    for picture in pictures:
        frame = picture.frame
        view = _view(picture.width, frame.top, frame.bottom)
        height = frame.bottom - frame.top
        place = f'y="{bottom:.0f}" width="{picture.width:.0f}" height="{height:.0f}"'
        parts += [f"<svg {place} {view}>", *_inside(picture, ""), "</svg>"]
        bottom += height + gap
    width = max(picture.width for picture in pictures)
    texts = [text for picture in pictures for text in picture.texts]
    return "".join(
        (
            f"{_ROOT} {_view(width, 0, bottom - gap)}{_label(title)}>",
            f"<title>{escape(title)}</title>{_font_style(texts)}",
            *parts,
            "</svg>",
        )
    )


def _view(width: float, top: float, bottom: float) -> str:
    return f'viewBox="0 {top:.0f} {width:.0f} {bottom - top:.0f}"'


def _inside(picture: Picture, under: str) -> Iterator[str]:
    shapes = picture.shapes
    yield f"<defs>{''.join(_symbols(shapes))}</defs>"
    yield under
    yield '<g stroke="#000" fill="none" stroke-linejoin="round">'
    yield from _strokes(shapes)
    yield from _frames(picture.texts)
    yield "</g><g>"
    yield from _fills(shapes)
    yield "</g>"
    yield from (_text(t) for t in picture.texts)


def _label(title: str) -> str:
    return f' role="img" aria-label="{escape(title)}"' if title else ""


def _symbols(shapes: Iterable[Shape]) -> Iterator[str]:
    glyphs = {s.glyph.code: s.glyph for s in shapes if s.glyph is not None}
    for code in sorted(glyphs):
        yield f'<path id="g{code}" transform="scale(1,-1)" d="{glyphs[code].outline}"/>'


def _strokes(shapes: Iterable[Shape]) -> Iterator[str]:
    """All lines of one width as one path: smaller files, and faster to set."""
    by_width: dict[float, list[str]] = {}
    for shape in shapes:
        if shape.path and not shape.filled:
            by_width.setdefault(shape.stroke, []).append(shape.path)
    for width, paths in by_width.items():
        yield f'<path stroke-width="{width:g}" d="{"".join(paths)}"/>'


def _fills(shapes: Iterable[Shape]) -> Iterator[str]:
    for shape in shapes:
        if shape.glyph is not None:
            x, y, scale = shape.at
            yield (
                f'<use xlink:href="#g{shape.glyph.code}" '
                f'transform="translate({x:g},{y:g}) scale({scale:g})"/>'
            )
        elif shape.filled:
            stroke = f' stroke="#000" stroke-width="{shape.stroke:g}"' if shape.stroke else ""
            yield f'<path d="{shape.path}"{stroke}/>'


def _frames(texts: Iterable[Text]) -> Iterator[str]:
    for text in texts:
        if text.boxed:
            box = text.box
            yield (
                f'<rect stroke-width="{_FRAME}" x="{box.left:.0f}" y="{box.top:.0f}" '
                f'width="{box.right - box.left:.0f}" height="{box.bottom - box.top:.0f}"/>'
            )


def _text(text: Text) -> str:
    """A text; runs of another face are elements of their own, for not every viewer changes the
    face inside one."""
    parts: list[str] = []
    x = text.x
    for face, group in groupby(text.runs, key=lambda run: run.face or text.face):
        runs = list(group)
        parts.append(_text_of(text, face, runs, x))
        x += sum(text_width(run.text, face, text.size * run.scale) for run in runs)
    return "".join(parts)


def _text_of(text: Text, face: Face, runs: Sequence[Run], x: float) -> str:
    """Runs of one face. PITFALL: a system has dozens of figures, and the typesetter takes a tenth
    of its time for spans and spaces that they don't need."""
    at = f'x="{x:.0f}" y="{text.y:.0f}" font-size="{text.size:.0f}" {_STYLES[face]}'
    if len(runs) == 1 and runs[0].scale == 1 and runs[0].rise == 0 and " " not in runs[0].text:
        return f'<text class="{text.kind}" {at}>{escape(runs[0].text, quote=False)}</text>'
    return (
        f'<text class="{text.kind}" xml:space="preserve" {at}>{"".join(_spans(text, runs))}</text>'
    )


def _spans(text: Text, runs: Iterable[Run]) -> Iterator[str]:
    at = 0.0
    for run in runs:
        shift = at - run.rise * text.size
        at = run.rise * text.size
        size = f' font-size="{run.scale * text.size:.0f}"' if run.scale != 1 else ""
        yield f'<tspan{size} dy="{shift:.0f}">{escape(run.text, quote=False)}</tspan>'


def _font_style(texts: Iterable[Text]) -> str:
    faces = {run.face or text.face for text in texts for run in text.runs}
    rules = (_font_rule(face) for face in sorted(faces))
    return f"<style>{''.join(rules)}</style>"


def _font_rule(face: Face) -> str:
    coded = base64.b64encode(font_bytes(face)).decode("ascii")
    family = "Petaluma Script" if face == "petalumascript" else "Edwin"
    weight = ";font-weight:bold" if face == "edwin-bold" else ""
    slant = ";font-style:italic" if face == "edwin-italic" else ""
    return (
        f'@font-face{{font-family:"{family}"{weight}{slant};'
        f'src:url("data:font/otf;base64,{coded}") format("opentype")}}'
    )
