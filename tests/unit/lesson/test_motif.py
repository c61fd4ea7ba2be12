"""The etude's motif, its chromatic notes and its quotations.

Checked against: scale degrees read again from the sheet's own changes (arithmetic); the level's
share of chromatic notes; "a motif returns at least three times" (common practice, no source).
"""

import pytest

from changewright.lesson.compose import compose
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.promise import Quotes
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import reading

TENOR = Player(instrument("tenor saxophone"))


def etude(number, seed, form="jazz blues", key="F"):
    return compose(reading(form, key), TENOR, level(number), "etude", seed)


@pytest.mark.parametrize("number", [3, 5, 7])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_cell_comes_back_three_times_moved_with_the_harmony(number, seed):
    sheet = etude(number, seed)
    quotes = {q.at // 4: q for q in sheet.promises if isinstance(q, Quotes)}
    cells = [quotes[bar] for bar in (0, 4, 8)]
    assert len({cell.onsets for cell in cells}) == 1
    steps = {tuple(_letters(sheet, cell)) for cell in cells}
    assert len(steps) == 1
    first = {str(n.pitch.name) for n in sheet.line.notes if n.onset in {c.at for c in cells}}
    assert len(first) > 1
    assert broken(sheet) == ()


def _letters(sheet, cell):
    """Staff steps from note to note: the same cell has the same, whatever the accidentals."""
    notes = [n for n in sheet.line.notes if n.onset - cell.at in cell.onsets][: len(cell.onsets)]
    low = notes[0].pitch.step
    return [n.pitch.step - low for n in notes]


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
