"""Chord symbols at written pitch: what belongs to the key keeps its name, what is remote is turned.

Source: domain reference 2.6 for no double accidentals; the steps of a key, its raised fourth and
its passing diminished chords spelled as rising: common practice, no source."""

import pytest

from changewright.music.written import Hand
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name
from changewright.theory.spelling import MANNERS
from changewright.theory.symbols import read_symbol, write_symbol
from changewright.theory.transposition import transpose_key_for, written_shift

STEPS = ((0, "maj7"), (2, "m7"), (4, "m7"), (-1, "maj7"), (1, "7"), (3, "m7"))
"""The chords on the first six steps of a major key, by fifths from its tonic."""


def at_concert(key: str, symbols: str, manner="usual") -> str:
    hand = Hand(Interval(0, 0), Key.parse(key), manner)
    return " ".join(write_symbol(hand.chord(read_symbol(s))) for s in symbols.split())


@pytest.mark.parametrize("manner", MANNERS)
@pytest.mark.parametrize(
    ("key", "symbols"),
    [
        ("C", "C#°7 D#°7 G#°7 F#m7(b5) E7/G# A7/C#"),
        ("G", "C#m7(b5) D#°7 B7/D#"),
        ("A", "C#m7 G#m7(b5) C#7 A#°7"),
        ("E", "C#m7 G#m7 C#7 G#7 A#m7(b5) E/G# B7/D#"),
        ("Eb", "F#m7 A7"),
        ("F#", "D#m7 G#m7 A#m7 C#7"),
        ("Ab", "Dbmaj7 Dbm7 Gb7"),
    ],
)
def test_a_chord_that_belongs_to_the_key_keeps_its_name(key, symbols, manner):
    assert at_concert(key, symbols, manner) == symbols


@pytest.mark.parametrize(
    ("key", "symbol", "turned"),
    [
        ("C", "C#7", "Db7"),
        ("F", "G#m7", "Abm7"),
        ("Db", "A#7", "Bb7"),
        ("B", "E#m7(b5)", "Fm7(b5)"),
        ("Ab", "Fb7", "E7"),
        ("Ab", "Bbb7", "A7"),
        ("C", "C7/Fb", "C7/E"),
    ],
)
def test_a_remote_chord_is_turned(key, symbol, turned):
    assert at_concert(key, symbol) == turned


def test_a_double_sharp_is_spared_a_beginner_alone():
    """V7 of the third step: its third is F double sharp, which everybody else reads as a G."""
    assert at_concert("E", "D#7") == "D#7"
    assert at_concert("E", "D#7", "easy") == "Eb7"


def test_a_moved_chord_takes_the_name_that_belongs_to_the_key():
    """Concert A in D flat is its lowered sixth, B double flat: an alto reads G flat for it."""
    alto = instrument("alto saxophone")
    hand = Hand(written_shift(alto, Key.parse("Db")), transpose_key_for(alto, Key.parse("Db")))
    assert write_symbol(hand.chord(read_symbol("Amaj7"))) == "Gbmaj7"


@pytest.mark.parametrize("reader", ["piano", "tenor saxophone", "alto saxophone", "french horn"])
@pytest.mark.parametrize(
    "concert", ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "G", "D", "A", "E", "B"]
)
def test_no_reader_meets_a_step_of_his_key_by_another_name(reader, concert):
    key, player = Key.parse(concert), instrument(reader)
    written = transpose_key_for(player, key)
    hand = Hand(written_shift(player, key), written)
    for step, kind in STEPS:
        chord = read_symbol(f"{Name(key.tonic.fifths + step)}{kind}")
        assert hand.chord(chord).root == Name(written.tonic.fifths + step)
