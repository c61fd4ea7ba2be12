from dataclasses import replace
from fractions import Fraction

import music21

from changewright.music.line import Line
from changewright.music.musicxml import write_musicxml
from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from tests.unit.page.sheets import BLUES, Q, sheet_of

EIGHT = [("C7", 4), ("F7", 4), ("C7", 4), ("G7", 4)] * 2


def shape(sheet: Sheet, **options) -> list[tuple[int, bool, int]]:
    return [(b.bar.number, b.opens_repeat, b.times) for b in notate(sheet, **options).bars]


def plain(symbols, **options) -> Sheet:
    return sheet_of(symbols, key="C", seed=0, **options)


def test_a_passage_that_makes_the_whole_is_written_once():
    assert shape(plain(EIGHT)) == [(1, True, 1), (2, False, 1), (3, False, 1), (4, False, 2)]
    assert shape(plain(EIGHT * 2))[-1] == (4, False, 4)


def test_equal_sections_are_folded_and_later_bars_keep_their_numbers():
    form = [*EIGHT[:4], *EIGHT[:4], ("D7", 4), ("G7", 4), ("D7", 4), ("G7", 4)]
    bars = shape(plain(form, labels={1: "A", 5: "A", 9: "B"}))
    assert [n for n, _, _ in bars] == [1, 2, 3, 4, 9, 10, 11, 12]
    assert bars[0][1]
    assert bars[3][2] == 2


def test_sections_that_differ_by_a_note_are_written_out():
    sheet = plain(EIGHT)
    notes = list(sheet.line.notes)
    notes[-1] = replace(notes[-1], duration=Fraction(1, 2))
    other = sheet.with_line(Line(tuple(notes), sheet.line.length))
    assert len(shape(other)) == 8


def test_letters_that_differ_are_written_out():
    assert len(shape(plain(EIGHT, labels={1: "A", 5: "B"}))) == 8


def test_two_equal_bars_of_a_blues_are_not_folded():
    assert len(shape(sheet_of(BLUES, seed=0))) == 12


def test_open_bars_are_never_folded():
    sheet = plain(EIGHT, blank=range(1, 9))
    assert len(shape(sheet)) == 8
    assert len(shape(sheet, answers=True)) == 4


def test_a_pickup_stands_before_the_repeat():
    bars = shape(plain(EIGHT, pickup=Q, rhythm=(Q,) * 4))
    assert bars[0] == (0, False, 1)
    assert bars[1] == (1, True, 1)
    assert bars[-1] == (4, False, 2)


def test_a_reader_that_takes_the_repeats_hears_the_line():
    # music21 expands MusicXML's repeats by its own rules
    sheet = plain(EIGHT)
    part = music21.converter.parse(write_musicxml(sheet), format="musicxml").parts[0]
    heard = [n.pitch.midi for n in part.toSoundingPitch().expandRepeats().recurse().notes
             if isinstance(n, music21.note.Note)]  # fmt: skip
    assert heard == [n.pitch.midi for n in sheet.line.notes]


def test_a_vamp_is_written_once_where_it_comes_often():
    vamp = [("Dm7", 4), ("G7", 4)]
    letters = dict.fromkeys((1, 3, 5, 7), "A")
    assert shape(plain(vamp * 4, labels=letters)) == [(1, True, 1), (2, False, 4)]
    assert len(shape(plain(vamp * 2, labels={1: "A", 3: "A"}))) == 4
