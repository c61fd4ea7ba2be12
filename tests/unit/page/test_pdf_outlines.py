"""The look for boxes of missing signs must see those that are planted, and no music."""

from importlib.resources import files

import pytest
import typst
from fontTools.ttLib import TTFont

from changewright.page.drawing import Box, Glyph, Shape
from changewright.page.svg import Picture, picture_svg
from tests.unit.page.pdf_outlines import missing_boxes, notdef_rings, path_count

FONT = TTFont(str(files("changewright.page") / "fonts" / "atkinson-hyperlegible-regular.ttf"))
HOLLOW = "M0 0H500V700H0ZM40 40V660H460V40Z"
CROSSED = "M0 0H500V700H0ZM40 80L230 350L40 620ZM460 80L270 350L460 620Z"
REST = "M0 0H500V250H0Z"  # a whole rest is a box too, but not a hollow one


def notdef() -> str:
    return "".join("M" + "L".join(f"{x} {y}" for x, y in ring) + "Z" for ring in notdef_rings(FONT))


def page(outline: str) -> bytes:
    """A system of one sign, set as our pages are."""
    glyph = Glyph("EFFF", outline, Box(0, -700, 500, 0))
    sign = Shape("notehead", "n0-0", Box(100, 0, 460, 504), glyph, (100.0, 504.0, 0.72))
    svg = picture_svg(Picture(2000, Box(0, -200, 2000, 800), (sign,), ()))
    source = '#image(bytes(sys.inputs.svg), format: "svg", width: 8cm)'
    compiler = typst.Compiler(source.encode())
    return compiler.compile(format="pdf", sys_inputs={"svg": svg})


@pytest.mark.parametrize("outline", [HOLLOW, CROSSED])
def test_a_planted_box_is_seen(outline):
    assert missing_boxes(page(outline)) == ["page 1: a hollow box"]


def test_a_planted_glyph_0_is_seen():
    assert missing_boxes(page(notdef())) == ["page 1: the outline of glyph 0"]


def test_a_box_that_is_music_is_not_taken_for_one():
    pdf = page(REST)
    assert path_count(pdf) == 1
    assert missing_boxes(pdf) == []
