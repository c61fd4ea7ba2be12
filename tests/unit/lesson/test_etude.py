"""The whole-chorus etude: breath, phrases, one high point, and what it is measured by."""

from itertools import pairwise

import numpy as np
import pytest

from changewright.lesson.compose import compose, grounds, plan_of
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.line import Role
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import reading

TENOR = Player(instrument("tenor saxophone"))


def etudes(number, seeds=6, form="aaba"):
    return [compose(reading(form), TENOR, level(number), "etude", seed) for seed in range(seeds)]


def phrases(sheet):
    found, end = [], -9
    for note in sheet.line.notes:
        if note.onset - end >= 1:
            found.append([])
        found[-1].append(note)
        end = note.end
    return found


@pytest.mark.parametrize("number", [3, 5, 8])
def test_the_highest_note_comes_once_in_the_second_half(number):
    """Teaching practice: the widest range is used once, at about two thirds."""
    once = 0
    for sheet in etudes(number):
        heights = [n.pitch.midi for n in sheet.line.notes]
        at = sheet.line.notes[heights.index(max(heights))].onset / sheet.line.length
        once += heights.count(max(heights)) == 1 and 0.5 <= at <= 0.8
    assert once >= 5  # a line that can't have it does without rather than break a rule


def test_the_high_point_is_exact_and_not_hoped_for():
    ground = next(grounds(reading("jazz blues"), TENOR, level(5), "etude"))
    trellis = plan_of(ground, "etude", 1).trellis
    solution = trellis.solve()
    drawn = solution.sample(50, np.random.default_rng(1))
    pitches = [dict(slot.columns)["pitch"] for slot in trellis.slots]
    for line in drawn:
        heights = [row[c] for row, c in zip(pitches, line, strict=True)]
        assert heights.count(max(heights)) == 1


def test_phrases_grow_with_the_level():
    """Solos on record: 14 notes in the median phrase (Weimar Jazz Database, ODbL)."""
    lengths = {}
    for number in (3, 8):
        counts = sorted(len(p) for sheet in etudes(number) for p in phrases(sheet))
        lengths[number] = counts[len(counts) // 2]
    assert lengths[3] < lengths[8]
    assert 8 <= lengths[8] <= 20


@pytest.mark.parametrize("number", [4, 8])
def test_phrases_do_not_always_start_on_one(number):
    """Solos on record: 9 % start on beat one, 35 % on an offbeat eighth."""
    starts = [p[0].onset % 4 for sheet in etudes(number) for p in phrases(sheet)]
    assert sum(s == 0 for s in starts) / len(starts) <= 0.7
    assert sum(s.denominator > 1 for s in starts) / len(starts) >= 0.2


def test_the_line_goes_on_from_a_short_motif():
    """Two chords a bar leave half a bar after the motif: it isn't all silence."""
    for sheet in etudes(6, seeds=4):
        silent = 0
        for a, b in pairwise(sheet.line.notes):
            silent += b.onset - a.end >= 2 and a.role is Role.PHRASE
        assert silent <= 4
        assert broken(sheet) == ()
