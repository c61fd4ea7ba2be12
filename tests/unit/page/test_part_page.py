"""A player's part as a page: chords on one stem, all of them there, none taken for crowding."""

import io
from fractions import Fraction

import pytest
from pypdf import PdfReader

from changewright.band.feel import feels
from changewright.band.notated import bass_sheet, comping_part
from changewright.errors import UnknownName
from changewright.music.stacked import notate_chords
from changewright.page import part_pdf
from changewright.page.engraving import engrave_notation
from changewright.page.look import look_of
from tests.unit.band.material import BLUES, MINOR, reading

# The SMuFL code points of the note heads: black, half, whole.
HEADS = {"E0A4", "E0A3", "E0A2"}


@pytest.mark.parametrize("name", sorted(feels()))
def test_every_note_of_every_chord_is_drawn(name: str) -> None:
    part = comping_part(reading(BLUES), feel=name, seed=2, level=5)
    notation = notate_chords(part.sheet, part.above)
    systems = engrave_notation(notation, look_of("plain"))
    marks = [m for bar in notation.bars for m in bar.marks if m.pitch is not None]
    wanted = sum(1 + len(mark.above) for mark in marks)
    drawn = [s for one in systems for s in one.shapes if s.kind == "notehead"]
    assert len(drawn) == wanted
    assert {s.glyph.code for s in drawn if s.glyph} <= HEADS
    assert len({s.owner for s in drawn}) == wanted
    ties = sum(s.kind == "tie" for one in systems for s in one.shapes)
    assert ties >= sum(1 + len(m.above) for m in marks if m.tied_to)


def test_four_bars_of_chords_share_a_system() -> None:
    part = comping_part(reading(BLUES), seed=2, level=5, ending="none")
    systems = engrave_notation(notate_chords(part.sheet, part.above), look_of("plain"))
    assert [len(one.bars) for one in systems] == [4, 4, 4]


def test_a_chord_s_notes_lie_where_they_are_spelled() -> None:
    """Higher letters lie higher on the paper, half a staff space each."""
    part = comping_part(reading(MINOR, "Cm"), seed=2, level=5)
    notation = notate_chords(part.sheet, part.above)
    [first, *_] = engrave_notation(notation, look_of("plain"))
    heads = {s.owner: s.box for s in first.shapes if s.kind == "notehead"}
    chords = [
        (f"n{b}-{p}", mark)
        for b, bar in enumerate(first.bars)
        for p, mark in enumerate(bar.marks)
        if mark.above and mark.pitch is not None
    ]
    assert chords
    for name, mark in chords:
        assert mark.pitch is not None
        middle = (heads[name].top + heads[name].bottom) / 2
        for place, one in enumerate(mark.above, start=1):
            box = heads[f"{name}-{place}"]
            steps = one.pitch.step - mark.pitch.step
            assert middle - (box.top + box.bottom) / 2 == pytest.approx(steps * 90, abs=2)


def test_the_page_names_the_tune_and_the_player() -> None:
    part = comping_part(reading(BLUES), seed=2, level=5)
    data = part_pdf(part.sheet, "Comping", title="Boat Shed Blues", above=part.above)
    text = PdfReader(io.BytesIO(data)).pages[0].extract_text()
    assert "Boat Shed Blues" in text
    assert "Comping" in text
    assert "Practise" not in text
    assert data == part_pdf(part.sheet, "Comping", title="Boat Shed Blues", above=part.above)
    with pytest.raises(UnknownName, match="paper"):
        part_pdf(part.sheet, "Comping", title="x", paper="a3")  # type: ignore[arg-type]


def test_a_bass_part_is_written_an_octave_above_its_sound_in_bass_clef() -> None:
    # standard reference: the double bass sounds an octave lower than written
    sheet = bass_sheet(reading(BLUES), level=5)
    assert sheet.instrument.clef == "bass"
    assert all(28 <= note.pitch.midi <= 50 for note in sheet.line.notes)
    assert part_pdf(sheet, "Bass", title="x").startswith(b"%PDF")
    assert sheet.line.notes[0].onset == Fraction(0)
