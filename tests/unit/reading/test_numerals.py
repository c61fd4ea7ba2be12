"""Numerals and degrees as a teacher writes and says them. Source: common practice, no source."""

import pytest

from changewright.reading.numerals import degree_words, numeral_of, roman, scale_degree
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name
from changewright.theory.symbols import read_symbol


@pytest.mark.parametrize(
    ("symbol", "key", "numeral"),
    [
        ("Dm7", "C", "iim7"), ("G7(b9)", "C", "V7(b9)"), ("Bø7", "C", "viiø7"),
        ("C#°7", "C", "#i°7"), ("Db7", "C", "bII7"), ("F#°7", "C", "#iv°7"),
        ("Abmaj7", "C", "bVImaj7"), ("C/E", "C", "I/3"), ("Gm7/C", "F", "V9sus4"),
        ("Db/C", "F", "V7sus4(b9)"), ("Cm(maj7)", "Cm", "im(maj7)"), ("N.C.", "C", "N.C."),
        ("Eb°7", "C", "biii°7"), ("B7", "Gb", "IV7"), ("Cb7", "Gb", "IV7"),
    ],
)  # fmt: skip
def test_numerals(symbol: str, key: str, numeral: str) -> None:
    assert numeral_of(read_symbol(symbol), Key.parse(key)) == numeral


@pytest.mark.parametrize(
    ("root", "tonic", "degree"),
    [("D#", "C", "#2"), ("Eb", "C", "b3"), ("B", "Db", "b7"), ("F#", "C", "#4"), ("Gb", "C", "b5")],
)
def test_degrees_keep_the_charts_spelling_where_it_is_sane(
    root: str, tonic: str, degree: str
) -> None:
    assert str(scale_degree(Name.parse(root), Name.parse(tonic))) == degree


def test_words_and_signs() -> None:
    assert degree_words(Degree(7, -1)) == "flat seven"
    assert degree_words(Degree(4, 1)) == "sharp four"
    assert (roman(Degree(6, -1), False), roman(Degree(2), True)) == ("bVI", "ii")


@pytest.mark.parametrize(
    ("symbol", "key", "numeral"),
    [
        ("Bmaj7", "Eb", "bVImaj7"),
        ("D#7", "C", "bIII7"),
        ("G#°7", "C", "#v°7"),
        ("C#7", "C", "bII7"),
    ],
)
def test_only_a_passing_diminished_chord_is_on_a_raised_one_two_or_five(
    symbol: str, key: str, numeral: str
) -> None:
    assert numeral_of(read_symbol(symbol), Key.parse(key)) == numeral
