"""Playing round a melody: its notes stay, whatever is done to them.

Checked against: a melody written here; the rules of each form (common practice, no source).
"""

from itertools import pairwise

import pytest

from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError
from changewright.lesson.compose import compose
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.line import Role
from changewright.music.promise import Approached
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument, instruments
from tests.unit.lesson.forms import reading

TUNE = """title: Heave
key: F
| Fmaj7 | Gm7 C7 | Fmaj7 | Fmaj7 | Bbmaj7 | Bbm6 | Gm7 C7 | Fmaj7 |
melody | A4:2 C5:1 A4 | Bb4:2 G4 | A4:3 -:1 | | D5:1 C5 Bb4:2 | -:1 Db5 C5 Bb4 | A4:2 G4 | F4:4 |
"""
FORM = unroll(read_chart(TUNE, "heave"))
TENOR = Player(instrument("tenor saxophone"))


def made(variant, number=5, seed=1, player=TENOR):
    name = f"melody.{variant}" if variant else "melody"
    reading = analyse(FORM)
    return compose(reading, player, level(number), name, seed, melody=FORM.melody)


def tune(notes):
    return [n.pitch.midi % 12 for n in notes]


SUNG = tune(FORM.melody.notes)
FORMS = ["as-written", "own-rhythm", "approaches", "fills", "paraphrase", "anchors"]


@pytest.mark.parametrize("variant", FORMS)
@pytest.mark.parametrize("number", [3, 6])
def test_every_form_keeps_its_promises_on_every_instrument(variant, number):
    for one in instruments().values():
        sheet = made(variant, number, player=Player(one))
        assert broken(sheet) == ()
        assert len(sheet.promises) > 4


def test_as_written_it_is_the_melody():
    notes = made("as-written").line.notes
    assert tune(notes) == SUNG
    assert [(n.onset, n.duration) for n in notes] == [
        (n.onset, n.duration) for n in FORM.melody.notes
    ]
    assert [str(n.pitch.name) for n in notes] == [str(n.pitch.name) for n in FORM.melody.notes]


def test_in_another_rhythm_the_notes_come_in_their_order():
    notes = made("own-rhythm").line.notes
    assert tune(notes) == SUNG
    assert [n.onset for n in notes] != [n.onset for n in FORM.melody.notes]


def test_approach_notes_lead_into_melody_notes_on_their_beats():
    sheet = made("approaches")
    at = {n.onset: n.pitch.midi % 12 for n in sheet.line.notes}
    assert [at[n.onset] for n in FORM.melody.notes] == SUNG
    led = [p for p in sheet.promises if isinstance(p, Approached)]
    assert len(led) * 2 >= sum(n.onset.denominator == 1 for n in FORM.melody.notes) - 4
    for a, b in pairwise(sheet.line.notes):
        if a.role is Role.APPROACH:
            assert 1 <= abs(a.pitch.midi - b.pitch.midi) <= 2


def test_rests_are_filled_and_the_melody_is_left_alone():
    notes = made("fills").line.notes
    assert tune([n for n in notes if not n.blank]) == SUNG
    filled = [n for n in notes if n.blank]
    assert filled
    assert all(11 < n.onset < 16 or n.onset >= 32 for n in filled)


def test_a_paraphrase_keeps_the_main_notes_and_the_rests():
    sheet = made("paraphrase")
    on = {n.onset: n.pitch.midi % 12 for n in sheet.line.notes}
    main = [n for n in FORM.melody.notes if n.duration >= 1]
    assert all(on.get(n.onset) == n.pitch.midi % 12 for n in main)
    assert not any(11 <= n.onset < 16 for n in sheet.line.notes), "the melody rests there"
    assert [n.onset for n in sheet.line.notes] != [n.onset for n in FORM.melody.notes]


def test_each_phrase_starts_as_the_melody_does():
    notes = {n.onset: n.pitch.midi % 12 for n in made("anchors").line.notes}
    assert [notes[at] for at in (0, 16, 21)] == [9, 2, 1]


def test_a_chart_without_a_melody_is_said_so():
    with pytest.raises(InputError, match="no melody"):
        compose(reading("jazz blues"), TENOR, level(4), "melody", 1)
