"""An exercise for a screen: each bar has its field, and the fields tile the staff."""

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from changewright.page import screen_svg
from changewright.usecases.demo import DEMO
from changewright.usecases.lesson import plan_lesson

FIELD = re.compile(r'data-bar="(\d+)" fill="none" x="(-?\d+)" y="-?\d+" width="(\d+)"')


@pytest.mark.parametrize("bars_a_system", [1, 2, 4])
def test_every_bar_has_one_field_beside_its_neighbour(bars_a_system: int) -> None:
    sheet = plan_lesson(DEMO).exercises[0].sheet
    systems = screen_svg(sheet, bars_a_system=bars_a_system)
    numbers: list[int] = []
    for svg in systems:
        root = ET.fromstring(svg)
        fields = [tuple(map(int, found)) for found in FIELD.findall(svg)]
        numbers += [number for number, _, _ in fields]
        assert len(fields) == bars_a_system
        for (_, left, width), (_, after, _) in pairwise(fields):
            assert abs(left + width - after) < 90, "half a staff space"
        width = float(root.attrib["viewBox"].split()[2])
        assert fields[-1][1] + fields[-1][2] <= width + 45, "a quarter of a staff space"
    assert numbers == [bar.number for bar in sheet.bars]
    assert "<style" not in "".join(systems), "a page with a strict policy would refuse it"
