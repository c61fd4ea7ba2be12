"""Free chorus and form by heart: what is played with nothing but the changes on the page."""

from itertools import pairwise

import pytest

from changewright.lesson.compose import compose
from changewright.lesson.family import families
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.promise import Lands, Rests, Within
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import reading

TENOR = Player(instrument("tenor saxophone"))


@pytest.mark.parametrize("skill", families()["free-chorus"].variants)
def test_a_free_chorus_prints_no_note_and_promises_none(skill):
    sheet = compose(reading("jazz blues"), TENOR, level(5), f"free-chorus.{skill}", 1)
    assert all(note.blank for note in sheet.line.notes)
    assert all(isinstance(promise, Within) for promise in sheet.promises)
    assert "three places" in sheet.instruction


def test_the_model_of_a_free_chorus_has_the_skill_in_three_places():
    """Teaching practice: three places a chorus."""
    sheet = compose(reading("jazz blues"), TENOR, level(5), "free-chorus.approach-notes", 1)
    led = [n for n in sheet.line.notes if n.role == "approach note"]
    assert len(led) >= 3


def test_the_form_by_heart_is_silent_but_for_the_first_beat_of_each_section():
    sheet = compose(reading("aaba"), TENOR, level(2), "form-by-heart", 1)
    lands = [p.at for p in sheet.promises if isinstance(p, Lands)]
    assert lands == [n.onset for n in sheet.line.notes]
    assert all((at / 4) % 4 == 0 for at in lands)
    silent = sum(p.end - p.start for p in sheet.promises if isinstance(p, Rests))
    assert silent == sheet.length - len(lands)
    assert broken(sheet) == ()


def test_chord_tones_come_down_from_the_root():
    sheet = compose(reading("two five one"), TENOR, level(2), "root-up.down", 1)
    first = [n for n in sheet.line.notes if n.onset < 4]
    assert [str(n.degree) for n in first] == ["1", "b7", "5", "b3"]
    assert all(a.pitch.midi > b.pitch.midi for a, b in pairwise(first))
    assert broken(sheet) == ()
    assert "down" in sheet.instruction
