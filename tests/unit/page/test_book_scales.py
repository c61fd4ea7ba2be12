"""The appendix of scales: notes to read, in no meter."""

import re

from changewright.music.notation import notate
from changewright.page.book_scales import scale_rows, scale_sheet
from changewright.page.book_style import BookStyle
from changewright.page.engraving import engrave_notation
from changewright.page.look import look_of
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Name
from changewright.theory.scale import Scale, scale_kind
from changewright.theory.symbols import read_symbol

METERS_AND_RESTS = re.compile(r"#gE0(8[0-9A])|#gE4E\d")  # SMuFL: time signatures, rests


def test_scales_of_eight_and_nine_notes_stand_in_no_meter() -> None:
    root = Name.parse("Eb")
    choices = [
        (read_symbol("Eb7"), Scale(root, scale_kind("mixolydian"))),
        (read_symbol("Eb7(b9)"), Scale(root, scale_kind("half_whole"))),
    ]
    sheet = scale_sheet(choices, Key.parse("Gb"), instrument("clarinet"))
    assert len({bar.length for bar in sheet.bars}) == 2
    notation, style = notate(sheet), BookStyle()
    systems = engrave_notation(notation, look_of("plain"), bars_a_system=1)
    # A change of meter would be announced, and leave a hole when it is taken out.
    timed = [any(s.kind == "meterSig" for s in system.shapes) for system in systems]
    assert timed == [True, False]
    assert all(system.edges[-1][1] > system.width - 40 for system in systems)
    rows = scale_rows(choices, notation, systems, style)
    assert [row["caption"] for row in rows] == ["F Mixolydian", "F half-whole diminished"]
    drawn = "".join(row["svg"] for row in rows)
    assert not METERS_AND_RESTS.search(drawn)
    assert drawn.count("#gE0A4") == sum(len(bar.marks) for bar in notation.bars) - 1
