import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
import verovio

from changewright.errors import EngineError
from changewright.music.notation import notate
from changewright.page._verovio import engrave
from changewright.page.drawing import Box, read_drawings
from changewright.page.look import look_of
from changewright.page.mei import mei_of
from tests.unit.page.sheets import random_rhythms, sheet_of

LOOK = look_of("plain")
NOTATION = notate(sheet_of(rhythm=random_rhythms(2)))
MEI = mei_of(NOTATION, [NOTATION.bars[:4], NOTATION.bars[4:8]], LOOK)
DRAWING, BELOW = read_drawings(engrave(MEI, LOOK.music))


def test_boxes_of_signs_are_the_published_ones():
    # the bounding boxes that the engraver ships with its fonts
    table = Path(verovio.__file__).parent / "data" / "Leland.xml"
    published = {g.get("c"): g for g in ET.parse(table).iter("g")}
    glyphs = {s.glyph.code: s.glyph for s in DRAWING.shapes if s.glyph is not None}
    assert len(glyphs) > 5
    for code, glyph in glyphs.items():
        x, y, w, h = (float(published[code].get(k, "nan")) for k in "xywh")
        # ours holds the control points too, so it may be a little larger, never smaller
        assert glyph.box.left <= x + 1
        assert glyph.box.right >= x + w - 1
        assert glyph.box.top <= -(y + h) + 1
        assert glyph.box.bottom >= -y - 1
        assert glyph.box.right - glyph.box.left < w + 60


def test_every_note_has_its_head():
    marks = [
        f"n{n}-{place}"
        for n, bar in enumerate(NOTATION.bars[:4])
        for place, mark in enumerate(bar.marks)
        if mark.pitch is not None
    ]
    assert sorted(DRAWING.heads()) == sorted(marks)


def test_bars_tile_the_system():
    assert len(DRAWING.bars) == 4
    assert DRAWING.bars[0][0] == 0
    assert DRAWING.bars[-1][1] == pytest.approx(DRAWING.width, abs=30)
    for (_, right), (left, _) in zip(DRAWING.bars, DRAWING.bars[1:], strict=False):
        assert left == pytest.approx(right, abs=30)


def test_systems_lie_below_each_other():
    assert len(BELOW.bars) == 4
    assert BELOW.top > DRAWING.bottom
    assert set(BELOW.heads()).isdisjoint(DRAWING.heads())


def test_boxes_meet_when_they_come_closer_than_asked():
    box = Box(0, 0, 10, 10)
    assert not box.meets(Box(12, 0, 20, 10))
    assert box.meets(Box(12, 0, 20, 10), room=3)
    assert box.moved(5, -5, 2) == Box(5, -5, 25, 15)


def test_rubbish_is_refused_aloud():
    # PITFALL: the engraver itself only returns False, or writes to standard error
    with pytest.raises(EngineError):
        engrave("<mei><broken>", "Leland")
    with pytest.raises(EngineError):
        read_drawings("<svg xmlns='http://www.w3.org/2000/svg'/>")
