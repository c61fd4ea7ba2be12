"""The whole-chorus etude: breath, phrases, one high point, and what it is measured by."""

from itertools import pairwise, product

import numpy as np
import pytest

from changewright.lesson.compose import compose, compose_many, grounds, plan_of
from changewright.lesson.ground import patches_of
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.line import Role
from changewright.music.promise import Echoes
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


def test_a_chorus_does_not_end_on_an_altered_fifth():
    """Common practice, no source: the diminished fifth of a turnaround's half-diminished chord is
    no place to stop."""
    for number, seed in product((3, 5, 8), range(8)):
        sheet = compose(reading("ending on a half-diminished"), TENOR, level(number), "etude", seed)
        last = sheet.line.notes[-1].degree
        assert (last.number, last.alter) in {(1, 0), (3, -1)}


@pytest.mark.parametrize("form", ["jazz blues", "aaba"])
def test_no_phrase_ends_on_a_note_of_care(form):
    """Teaching practice: what has to be handled with care passes; a phrase doesn't hang on it."""
    for number, seed in product((3, 5, 8), range(6)):
        sheet = compose(reading(form), TENOR, level(number), "etude", seed)
        patches = patches_of(reading(form))
        for note in (p[-1] for p in phrases(sheet)):
            patch = next(p for p in patches if p.start <= note.onset < p.end)
            care = {d.pc for read in patch.read.scales[:1] for d in read.care}
            free = note.role is not Role.PHRASE or _is_motifs(sheet, note)
            if free and note.end <= patch.end and note.degree is not None:
                assert note.degree.pc not in care


def _is_motifs(sheet, note):
    echoes = [p for p in sheet.promises if isinstance(p, Echoes)]
    return any(at <= note.onset < at + 4 for e in echoes for at in (e.at, e.of))


def test_eighths_do_not_go_back_and_forth():
    """Teaching practice: a-b-a-b is a trill, not a line; figures that ask for it aside."""
    moves = trills = 0
    for number, seed in product((3, 5, 8), range(8)):
        for phrase in phrases(compose(reading("aaba"), TENOR, level(number), "etude", seed)):
            heights = [n.pitch.midi for n in phrase]
            for a, b, c, d in zip(heights, heights[1:], heights[2:], heights[3:], strict=False):
                moves += 1
                trills += a == c != b == d
    assert moves > 1000
    assert trills <= moves / 1000


def test_four_bars_do_not_begin_in_the_rhythm_of_the_bar_before():
    """Teaching practice: no two adjacent bars in the same rhythm unless they are a motif."""
    for number, seed in product((3, 4, 8), range(16)):
        sheet = compose(reading("aaba"), TENOR, level(number), "free-rhythm", seed)
        notes = sheet.line.notes
        rhythms = [
            [(n.onset - b.start, n.duration) for n in notes if b.start <= n.onset < b.end]
            for b in sheet.bars
        ]
        assert all(rhythms[i] != rhythms[i - 1] for i in range(4, len(rhythms), 4))


def test_many_sheets_of_one_plan_keep_its_rhythm_and_every_promise():
    asked = (reading("jazz blues"), TENOR, level(6), "etude", 3)
    sheets = compose_many(*asked, 40)
    assert compose_many(*asked, 1) == [compose(*asked)]
    assert len({tuple(n.pitch for n in sheet.line.notes) for sheet in sheets}) == 40
    assert len({tuple((n.onset, n.duration) for n in s.line.notes) for s in sheets}) == 1
    assert not any(broken(sheet) for sheet in sheets)
