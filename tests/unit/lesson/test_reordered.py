"""Re-ordered chord tones. Checked against: the worked example of nearest inversions
(common practice, no source; arithmetic)."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from changewright.chart.model import form_of
from changewright.lesson.compose import compose, grounds, plan_of
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.bar import Meter
from changewright.music.keeping import broken
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import names, reading

TENOR = Player(instrument("tenor saxophone"))


def groups(sheet, size=4):
    notes = sheet.line.notes
    return [notes[i : i + size] for i in range(0, len(notes), size)]


def test_the_worked_example_is_among_the_lines_of_the_nearest_inversion():
    """F A C Eb | D F Ab Bb | A C Eb F joins by semitones; level 4 must allow it."""
    short = analyse(form_of([("F7", 2), ("Bb7", 2), ("F7", 2), ("F7", 2)]))
    alto = Player(instrument("alto saxophone"))
    ground = next(grounds(short, alto, level(4), "reordered"))
    plan = plan_of(ground, "reordered", 1)
    lines = plan.trellis.solve().sample(4000, np.random.default_rng(1))
    found = {names(plan.write(line.tolist())[:12]) for line in lines}
    assert "F A C Eb D F Ab Bb A C Eb F" in found


@pytest.mark.parametrize("number", [1, 2])
def test_beginners_play_up_from_the_root_and_down_from_the_seventh(number):
    sheet = compose(reading("three-chord blues"), TENOR, level(number), "reordered", 3)
    full = [g for g in groups_by_bar(sheet) if len(g) == 4]
    told = {" ".join(str(n.degree) for n in g) for g in full}
    assert told <= {"1 3 5 b7", "b7 5 3 1"}
    assert " ".join(str(n.degree) for n in full[0]) == "1 3 5 b7"


def groups_by_bar(sheet):
    return [sheet.line.cut(b.start, b.end).notes for b in sheet.bars]


@pytest.mark.parametrize(("number", "most"), [(2, 7), (4, 4), (6, 4)])
def test_joins_stay_within_the_level(number, most):
    for seed in range(5):
        sheet = compose(reading("jazz blues"), TENOR, level(number), "reordered", seed)
        notes = sheet.line.notes
        onsets = {c.onset for c in sheet.changes}
        joins = [abs(b.pitch.midi - a.pitch.midi) for a, b in pairwise(notes) if b.onset in onsets]
        assert max(joins) <= most


def test_most_nearest_inversions_join_by_step_or_repeat():
    """The pass mark of the family: 80 % of changes within two semitones."""
    joins = []
    for seed in range(20):
        sheet = compose(reading("jazz blues"), TENOR, level(4), "reordered", seed)
        onsets = sheet.chord_onsets()
        joins += [
            abs(b.pitch.midi - a.pitch.midi)
            for a, b in pairwise(sheet.line.notes)
            if b.onset in onsets
        ]
    assert sum(j <= 2 for j in joins) / len(joins) >= 0.8


def test_mixed_orders_change_every_group():
    sheet = compose(reading("jazz blues"), TENOR, level(6), "reordered", 1)
    orders = [tuple(n.degree.number for n in g) for g in groups(sheet)]
    assert all(a != b for a, b in pairwise(orders))
    assert broken(sheet) == ()


@pytest.mark.parametrize("number", range(1, 9))
def test_in_three_four_only_the_values_of_the_level_stand(number):
    symbols = [("Gm7", 3), ("C7", 3), ("Fmaj7", 3), ("Fmaj7", 3), ("Bb7", 3), ("Am7", 3)]
    waltz = analyse(form_of(symbols, meter=Meter(3, 4)))
    sheet = compose(waltz, Player(instrument("tenor saxophone")), level(number), "reordered", 1)
    allowed = {*level(number).note_values, Fraction(3)}
    assert {n.duration for n in sheet.line.notes} <= allowed


def test_root_up_names_what_is_there_in_three_four():
    waltz = analyse(form_of([("Gm7", 3), ("C7", 3), ("Fmaj7", 3)], meter=Meter(3, 4)))
    player = Player(instrument("tenor saxophone"))
    told = compose(waltz, player, level(2), "root-up", 1).instruction
    assert "seventh" not in told
    assert "seventh" in compose(waltz, player, level(4), "root-up", 1).instruction
