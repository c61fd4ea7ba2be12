from fractions import Fraction

import pytest

from changewright.music.notation import notate
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree
from tests.unit.page.sheets import E8, LETTERS, H, Q, sheet_of

F = Fraction


def read(symbol: str, **options):
    return notate(sheet_of([(symbol, 4)], **options))


@pytest.mark.parametrize(
    ("player", "concert", "written"),
    [
        # Source: published transposition tables, as collected in the domain reference (K097-K108)
        ("alto saxophone", "F", "D"),
        ("alto saxophone", "Bb", "G"),
        ("trumpet", "Bb", "C"),
        ("clarinet", "Bb", "C"),
        ("tenor saxophone", "Bb", "C"),
        ("soprano saxophone", "Bb", "C"),
        ("alto saxophone", "Eb", "C"),
        ("baritone saxophone", "Eb", "C"),
        ("horn", "F", "C"),
        ("trumpet", "Ab", "Bb"),
        ("tenor saxophone", "F", "G"),
        ("trumpet", "Gb", "Ab"),
        ("alto saxophone", "Gb", "Eb"),
        ("alto saxophone", "E", "Db"),
        ("trumpet", "B", "Db"),
    ],
)
def test_parts_are_written_in_the_key_that_players_expect(player, concert, written):
    sheet = sheet_of([(concert, 4)], instrument_id=player, key=concert)
    assert str(notate(sheet).key) == written


@pytest.mark.parametrize(
    ("player", "written", "sounds"),
    [
        # Source: published transposition tables (K109-K117)
        ("trumpet", "C5", "Bb4"),
        ("alto saxophone", "C5", "Eb4"),
        ("tenor saxophone", "C5", "Bb3"),
        ("baritone saxophone", "C5", "Eb3"),
        ("horn", "C5", "F4"),
        ("guitar", "C4", "C3"),
        ("double bass", "C4", "C3"),
    ],
)
def test_written_notes_sound_where_the_tables_say(player, written, sounds):
    from changewright.theory.pitch import Pitch

    up = notate(sheet_of([("C", 4)], instrument_id=player, key="C")).up
    assert Pitch.parse(sounds) + up == Pitch.parse(written)


def test_chord_symbols_move_with_the_notes():
    # K102: concert Db7 is written Bb7 for E-flat instruments
    bar = read("Db7", instrument_id="alto saxophone", key="Db").bars[0]
    assert str(bar.chords[0].chord.root) == "Bb"
    assert str(bar.marks[0].pitch.name) in {"Bb", "D", "F", "Ab"}


def test_respelling_moves_every_note_alike():
    sheet = sheet_of([("E7", 4), ("B7", 4)], instrument_id="alto saxophone", key="E")
    names = {str(m.pitch.name) for b in notate(sheet).bars for m in b.marks}
    assert names <= {"Db", "F", "Ab", "Cb", "Eb", "C", "Gb"}


def test_a_note_over_the_bar_line_is_tied_and_figured_once():
    sheet = sheet_of([("F7", 8)], rhythm={1: (H, Q, Q), 2: (H, H)})
    notes = list(sheet.line.notes)
    long = notes[2].__class__(F(3), F(2), notes[2].pitch, notes[2].role, Degree(1))
    line = sheet.line.with_([notes[0], notes[1], long])
    first, second = notate(sheet.with_line(line)).bars
    assert first.marks[-1].tied_to
    assert not first.marks[-1].tied_from
    assert second.marks[0].tied_from
    assert not second.marks[0].tied_to
    assert first.marks[-1].figure == Degree(1)
    assert second.marks[0].figure is None


def test_blank_bars_are_open_and_say_their_target():
    sheet = sheet_of(blank=(2,), seed=0)
    bar = notate(sheet).bars[1]
    assert bar.is_open
    assert [c.degrees for c in bar.cues] == [(Degree(1),)]
    answered = notate(sheet, answers=True).bars[1]
    assert not answered.is_open
    assert not answered.cues
    assert len(answered.marks) == 4


def test_silence_beside_a_blank_is_left_open_too():
    sheet = sheet_of([("F7", 4)], rhythm=(Q, -Q, Q, -Q), blank=(1,))
    assert notate(sheet).bars[0].is_open


def test_sections_close_before_the_next_letter_and_at_the_end():
    bars = notate(sheet_of(labels=LETTERS)).bars
    assert [b.bar.number for b in bars if b.closes] == [4, 8, 12]


def test_a_pickup_closes_no_section():
    bars = notate(sheet_of(labels=LETTERS, pickup=Q, rhythm=(Q,) * 4)).bars
    assert not bars[0].closes
    assert bars[0].bar.number == 0


def test_a_chord_is_new_only_where_it_changes():
    bars = notate(sheet_of()).bars
    assert [b.bar.number for b in bars if b.chords[0].is_new] == [1, 5, 7, 9, 10, 11]
    assert isinstance(bars[0].chords[0].chord, Chord)


def test_eighths_are_beamed_by_half_bars_and_sixteenths_by_beats():
    (bar,) = read("F7", rhythm=(E8,) * 8).bars
    assert [m.beam for m in bar.marks] == [0, 0, 0, 0, 1, 1, 1, 1]
    (bar,) = read("F7", rhythm=(F(1, 4),) * 4 + (E8, E8) + (Q, Q)).bars
    assert [m.beam for m in bar.marks] == [0, 0, 0, 0, 1, 1, None, None]


def test_remote_chords_are_turned_with_their_notes():
    # concert B7 in G flat, for alto: A flat 7, not G sharp 7, in E flat
    sheet = sheet_of([("Gb7", 4), ("B7", 4)], instrument_id="alto saxophone", key="Gb")
    second = notate(sheet).bars[1]
    assert str(second.chords[0].chord.root) == "Ab"
    assert {str(m.pitch.name) for m in second.marks} <= {"Ab", "C", "Eb", "Gb"}


def test_a_diminished_seventh_is_written_without_double_flats():
    # house rule of the domain reference 2.6: A for B double flat
    sheet = sheet_of([("C°7", 4)], instrument_id="flute", key="C", seed=0)
    names = [str(m.pitch.name) for m in notate(sheet).bars[0].marks]
    assert names == ["C", "Eb", "Gb", "A"]
