"""The etude's motifs, its chromatic notes and its quotations.

Checked against: scale degrees read again from the sheet's own changes (arithmetic); the level's
share of chromatic notes; "a motif returns at least three times" (common practice, no source).
"""

from itertools import pairwise, product

import pytest

from changewright.lesson.compose import compose
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.promise import Echoes, Quotes
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import reading

TENOR = Player(instrument("tenor saxophone"))


def etude(number, seed, form="jazz blues", key="F"):
    return compose(reading(form, key), TENOR, level(number), "etude", seed)


def comings(sheet):
    """The notes of every coming of every motif, by where it first stands."""
    found = {}
    for echo in (p for p in sheet.promises if isinstance(p, Echoes)):
        for at in (echo.of, echo.at):
            index = next(i for i, n in enumerate(sheet.line.notes) if n.onset == at)
            notes = sheet.line.notes[index : index + echo.count]
            found.setdefault(echo.of, {})[at] = notes
    return {of: list(times.values()) for of, times in found.items()}


@pytest.mark.parametrize("number", [3, 5, 7])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_motif_comes_back_three_times_and_can_be_told(number, seed):
    """Its rhythm stays, and but for its last note it goes by the same steps of the staff, as it
    was or upside down."""
    sheet = etude(number, seed)
    assert comings(sheet)
    for motif in comings(sheet).values():
        assert len(motif) >= 3
        assert len({tuple(n.onset - notes[0].onset for n in notes) for notes in motif}) == 1
        steps = [_letters(notes)[:-1] for notes in motif]
        assert all(s in (steps[0], [-one for one in steps[0]]) for s in steps)
    assert broken(sheet) == ()


@pytest.mark.parametrize("form", ["jazz blues", "aaba", "three-chord blues"])
def test_no_coming_of_a_motif_sounds_like_the_one_before(form):
    """Teaching practice: a motif returns varied; a demanding ear crosses out a mere repeat."""
    for number, seed in product((3, 5, 8), range(4)):
        for motif in comings(etude(number, seed, form)).values():
            for before, notes in pairwise(motif):
                assert [n.pitch.midi % 12 for n in before] != [n.pitch.midi % 12 for n in notes]


@pytest.mark.parametrize(("number", "count"), [(3, 1), (4, 1), (5, 2), (6, 2), (7, 3), (8, 3)])
def test_a_long_form_has_as_many_motifs_as_the_level(number, count):
    """The curriculum: one motif at level 3, two at 5, three at 7, each in a rhythm of its own."""
    for seed in range(3):
        found = comings(etude(number, seed, "aaba"))
        assert len(found) == count
        rhythms = {tuple((n.onset % 4, n.duration) for n in m[0]) for m in found.values()}
        assert len(rhythms) == count


def test_a_short_form_has_two_motifs_or_a_phrase_of_the_library():
    found = [len(comings(etude(5, seed))) for seed in range(8)]
    assert set(found) == {1, 2}


def _letters(notes):
    """Staff steps from the first note, whatever the accidentals."""
    return [n.pitch.step - notes[0].pitch.step for n in notes]


@pytest.mark.parametrize("number", [3, 4, 5, 6, 7])
def test_chromatic_notes_keep_to_the_levels_share(number):
    for seed in range(4):
        notes = etude(number, seed).line.notes
        outside = sum(n.degree is None for n in notes)
        assert outside <= level(number).chromatic_share * len(notes) + 1


def test_a_form_that_is_too_short_for_a_motif_has_none():
    sheet = etude(5, 1, "two five one", "C")
    onsets = [q.onsets for q in sheet.promises if isinstance(q, Quotes)]
    assert len(onsets) <= 2
