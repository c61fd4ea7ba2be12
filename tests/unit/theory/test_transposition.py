"""From concert to written pitch, and the octave in which a part lies well."""

import pytest

from changewright.theory.instrument import Stage, instrument, instruments
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Pitch
from changewright.theory.transposition import octave_for, transpose_key_for, written_shift


# Source: domain reference 2.6, after tables of instrumental transpositions.
@pytest.mark.parametrize(
    ("concert", "b_flat", "e_flat", "horn"),
    [
        ("C", "D", "A", "G"),
        ("Db", "Eb", "Bb", "Ab"),
        ("D", "E", "B", "A"),
        ("Eb", "F", "C", "Bb"),
        ("E", "F#", "Db", "B"),
        ("F", "G", "D", "C"),
        ("Gb", "Ab", "Eb", "Db"),
        ("F#", "Ab", "Eb", "Db"),
        ("G", "A", "E", "D"),
        ("Ab", "Bb", "F", "Eb"),
        ("A", "B", "F#", "E"),
        ("Bb", "C", "G", "F"),
        ("B", "Db", "Ab", "F#"),
        ("C#m", "Ebm", "Bbm", "G#m"),
        ("Am", "Bm", "F#m", "Em"),
        ("Ebm", "Fm", "Cm", "Bbm"),
        ("F#m", "G#m", "Ebm", "C#m"),
    ],
)
def test_keys_that_players_read(concert: str, b_flat: str, e_flat: str, horn: str) -> None:
    for player, written in (
        ("trumpet", b_flat),
        ("tenor saxophone", b_flat),
        ("alto saxophone", e_flat),
        ("baritone saxophone", e_flat),
        ("horn", horn),
        ("piano", concert),
    ):
        assert str(transpose_key_for(instrument(player), Key.parse(concert))) == written


def test_one_shift_moves_the_whole_exercise() -> None:
    shift = written_shift(instrument("alto saxophone"), Key.parse("E"))
    concert = [Pitch.parse(p) for p in ("G#3", "B3", "D#4", "E4")]
    assert [str(p + shift) for p in concert] == ["F4", "Ab4", "C5", "Db5"]
    assert shift.semitones == Interval.parse("M6").semitones


def test_shift_is_the_plain_transposition_where_that_is_readable() -> None:
    for player in instruments().values():
        assert written_shift(player, Key.parse("F")) == player.written_up


@pytest.mark.parametrize(
    ("line", "player", "stage", "octaves"),
    [
        ("F4 A4 C5 Eb5", "flute", "beginner", 0),
        ("F4 A4 C5 D5", "trombone", "beginner", -1),
        ("F4 A4 C5 D5", "double bass", "beginner", -3),
        ("C4 E4 G4 Bb4", "soprano saxophone", "beginner", 0),
        ("C4 E4 G4 Bb4", "baritone saxophone", "beginner", -1),
        ("C4 E4 G4 Bb4", "tuba", "beginner", -2),
        ("C2 E2 G2", "flute", "beginner", 3),
        ("C4", "piano", "professional", 0),
    ],
)
def test_octaves_of_a_mixed_group(line: str, player: str, stage: Stage, octaves: int) -> None:
    pitches = [Pitch.parse(p) for p in line.split()]
    assert octave_for(pitches, instrument(player), stage) == octaves


def test_no_notes_stay_where_they_are() -> None:
    assert octave_for([], instrument("flute"), "beginner") == 0
