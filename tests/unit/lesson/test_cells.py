from fractions import Fraction

import pytest

from changewright.chart.model import form_of
from changewright.errors import InputError
from changewright.lesson.cells import breath_of, cells_for, centre_of, pulse_of
from changewright.lesson.compose import compose
from changewright.lesson.family import families
from changewright.lesson.level import level, levels
from changewright.lesson.player import Player
from changewright.music.bar import Meter
from changewright.music.keeping import broken
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument

TENOR = Player(instrument("tenor saxophone"))
METERS = ["2/4", "3/4", "4/4", "5/4", "6/4", "7/4", "3/8", "6/8", "9/8", "12/8", "5/8", "7/8"]
CHANGES = ["Fmaj7", "Gm7", "C7", "Fmaj7", "Am7", "D7(b9)", "Gm7", "C7", "F6"]


def meter(text):
    return Meter(*map(int, text.split("/")))


def bar(text):
    return form_of([("F7", meter(text).beats)], meter=meter(text), title="bar").bars[0]


def chorus(text):
    beats = meter(text).beats
    return analyse(form_of([(c, beats) for c in CHANGES], meter=meter(text), title="any"))


@pytest.mark.parametrize("text", METERS)
@pytest.mark.parametrize("number", sorted(levels()))
def test_cells_fill_the_bar_and_no_more(text, number):
    cells = cells_for(level(number), bar(text)).cells
    assert len(cells) >= 3
    for cell in cells:
        assert cell.length == bar(text).length
        assert all(o < cell.length for o, _ in cell.notes)
        ends = [o + d for o, d in cell.notes]
        assert all(end <= o for end, (o, _) in zip(ends, cell.notes[1:], strict=False))


@pytest.mark.parametrize("text", METERS)
@pytest.mark.parametrize("number", sorted(levels()))
def test_every_meter_has_room_for_a_breath_and_for_an_ending(text, number):
    one = bar(text)
    cells = cells_for(level(number), one).cells
    for breath in (breath_of(one), breath_of(one, longer=True)):
        assert any(c.notes and c.length - c.end >= breath for c in cells)
    assert any(len(c.notes) == 1 and c.first == 0 for c in cells)


@pytest.mark.parametrize(
    ("text", "pulse", "centre"),
    [
        ("4/4", 1, 2),
        ("3/4", 1, 2),
        ("5/4", 1, 3),
        ("6/8", Fraction(3, 2), Fraction(3, 2)),
        ("12/8", Fraction(3, 2), 3),
    ],
)
def test_the_pulse_and_the_second_strong_beat(text, pulse, centre):
    """Common practice, no source: 5/4 is three and two, 6/8 two dotted quarters."""
    assert pulse_of(meter(text)) == pulse
    assert centre_of(bar(text)) == centre


@pytest.mark.parametrize("text", ["2/4", "3/4", "5/4", "3/8", "6/8", "12/8"])
@pytest.mark.parametrize("family", [f.id for f in families().values() if not f.wants_melody])
def test_every_family_works_in_every_meter(text, family):
    reading = chorus(text)
    for number in {families()[family].since, 8}:
        sheet = compose(reading, TENOR, level(number), family, 1)
        assert broken(sheet) == ()
        assert sheet.line.notes


def test_a_phrase_is_made_where_the_library_has_none():
    sheet = compose(chorus("5/4"), TENOR, level(5), "planned-phrase", 1)
    told = {p for p in sheet.promises if type(p).__name__ == "Quotes"}
    assert len(told) >= 2
    short = analyse(form_of([("F7", 1), ("Bb7", 3)] * 4, title="short"))
    with pytest.raises(InputError, match="no phrase fits"):
        compose(short, TENOR, level(4), "planned-phrase", 1)
