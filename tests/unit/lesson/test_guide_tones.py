"""Guide-tone lines. Checked against: the worked example over Dm7 G7 Cmaj7 (7-3-7 and 3-7-3) and
the computed exception at bars 7-8 of a blues (no guide tone of F7 lies within a whole tone of one
of D7); arithmetic."""

from itertools import pairwise

import pytest

from changewright.chart.model import form_of
from changewright.errors import UnknownName
from changewright.lesson.compose import compose
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import names, reading

TENOR = Player(instrument("tenor saxophone"))


@pytest.mark.parametrize(("strand", "line"), [("seventh", "C B B"), ("third", "F F E")])
def test_the_worked_example(strand, line):
    short = analyse(form_of([("Dm7", 4), ("G7", 4), ("Cmaj7", 4)]))
    sheet = compose(short, TENOR, level(1), f"guide-tones.{strand}", 1)
    assert names(sheet.line.notes) == line


@pytest.mark.parametrize("number", [1, 2])
def test_every_change_of_the_blues_is_reached_by_step(number):
    for seed in range(6):
        sheet = compose(reading("three-chord blues"), TENOR, level(number), "guide-tones", seed)
        onsets = sheet.chord_onsets()
        moves = [
            abs(b.pitch.midi - a.pitch.midi)
            for a, b in pairwise(sheet.line.notes)
            if b.onset in onsets
        ]
        assert max(moves) <= 2
        assert broken(sheet) == ()


def test_the_known_exception_is_a_third_and_is_said():
    sheet = compose(reading("jazz blues"), TENOR, level(2), "guide-tones.third", 1)
    assert "bars 8 and 11" in sheet.instruction
    into_bar_8 = next(
        abs(b.pitch.midi - a.pitch.midi) for a, b in pairwise(sheet.line.notes) if b.onset == 28
    )
    assert into_bar_8 in (3, 4)
    assert broken(sheet) == ()


def test_both_strands_turn_up_and_can_be_asked_for():
    starts = {
        str(compose(reading("two five one"), TENOR, level(2), name, 1).line.notes[0].degree)
        for name in ("guide-tones.third", "guide-tones.seventh")
    }
    assert starts == {"b3", "b7"}
    with pytest.raises(UnknownName, match=r"third, seventh"):
        compose(reading("two five one"), TENOR, level(2), "guide-tones.fifth", 1)


def test_a_neighbour_decorates_from_level_three_and_is_spelled_by_step():
    sheet = compose(reading("jazz blues"), TENOR, level(3), "guide-tones", 1)
    for a, b in pairwise(sheet.line.notes):
        if a.onset.numerator and str(b.role) == "scale tone":
            assert abs(b.pitch.step - a.pitch.step) == 1
