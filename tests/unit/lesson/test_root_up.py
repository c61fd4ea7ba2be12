"""Root-up chord tones: the worked example and the rules of the family.

Checked against: common practice, no source, for 1-3-5-7 of the chords named; the written ranges
of school-band practice for the fallbacks.
"""

from itertools import pairwise

import pytest

from changewright.chart.model import form_of
from changewright.lesson.compose import compose
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument, instruments
from tests.unit.lesson.forms import KEYS, bar_names, names, reading

TENOR = Player(instrument("tenor saxophone"))


def test_the_worked_example():
    short = analyse(form_of([("Gm7", 4), ("C7", 4), ("Fmaj7", 4)]))
    sheet = compose(short, TENOR, level(2), "root-up", 1)
    assert names(sheet.line.notes) == "G Bb D F C E G Bb F A C E"


def test_each_new_chord_starts_on_its_root_on_beat_one():
    sheet = compose(reading("three-chord blues"), TENOR, level(1), "root-up", 1)
    first = {n.onset: n for n in sheet.line.notes}
    for onset in sheet.chord_onsets():
        assert first[onset].pitch.name == sheet.change_at(onset).chord.root


def test_a_chord_that_lasts_is_not_the_same_bar_for_ever():
    sheet = compose(reading("three-chord blues"), TENOR, level(1), "root-up", 1)
    bars = [
        tuple((n.onset - b.start, n.pitch) for n in sheet.line.cut(b.start, b.end).notes)
        for b in sheet.bars
    ]
    lines = [
        tuple((n.onset, n.duration, n.pitch) for n in sheet.line.cut(b.start, b.end).notes)
        for b in sheet.bars
    ]
    assert len(bars) == 12
    assert all(a != b for a, b in pairwise(lines[:4]))
    assert bar_names(sheet, 1) == "F A C Eb"


def test_register_is_the_root_nearest_below_the_middle():
    sheet = compose(reading("three-chord blues"), TENOR, level(2), "root-up", 1)
    # tenor saxophone, beginner: sounding C3 to Bb4, so the middle is B3
    roots = {str(n.pitch) for n in sheet.line.notes if str(n.degree) == "1"}
    assert roots == {"F3", "Bb3", "C3"}


def test_half_bars_by_level():
    jazz = reading("jazz blues")
    assert bar_names(compose(jazz, TENOR, level(1), "root-up", 1), 4) == "C F"
    assert bar_names(compose(jazz, TENOR, level(2), "root-up", 1), 4) == "C Eb F A"
    assert bar_names(compose(jazz, TENOR, level(3), "root-up", 1), 4) == "C Eb G Bb F A C Eb"


def test_a_trumpet_beginner_plays_triads_and_is_told():
    sheet = compose(
        reading("three-chord blues"), Player(instrument("trumpet")), level(1), "root-up", 1
    )
    assert {str(n.degree) for n in sheet.line.notes} == {"1", "3", "5"}
    assert "no room for the sevenths" in sheet.instruction


def test_a_horn_beginner_gets_another_inversion_rather_than_a_wider_range():
    horn = Player(instrument("horn"))
    for key in KEYS:
        sheet = compose(reading("three-chord blues", key), horn, level(1), "root-up", 1)
        assert broken(sheet) == ()
        low = min(n.pitch.midi for n in sheet.line.notes)
        high = max(n.pitch.midi for n in sheet.line.notes)
        assert high - low <= 12


@pytest.mark.parametrize("number", [1, 2])
def test_first_lesson_fits_every_instrument(number):
    """No refusal on a three-chord blues for any instrument; all keys are a slow test below."""
    fits(number, level(number).keys[:1])


@pytest.mark.slow
@pytest.mark.parametrize("number", range(1, 9))
def test_first_lesson_fits_every_instrument_in_every_key(number):
    fits(number, KEYS)


def fits(number, keys):
    for key in keys:
        for one in instruments().values():
            for family in level(number).first_families:
                sheet = compose(
                    reading("three-chord blues", key), Player(one), level(number), family, 1
                )
                assert broken(sheet) == ()
