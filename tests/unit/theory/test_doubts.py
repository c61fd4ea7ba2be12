"""What is asked about symbols that players take in two ways. Source: domain reference 2.3."""

import pytest

from changewright.errors import ChordError
from changewright.theory.symbol_doubts import doubts


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("Ab5", "A7(b5)"), ("Eb9", "E7(b9)"), ("Bb13", "B7(b13)"), ("B♭9/D", "B7(b9)"),
        ("C2", "Csus2"), ("F#4", "F#(add11)"), ("Gsus9", "G9sus4"), ("EbΔ", "Eb"),
        ("C-Δ", "triad"), ("F#°", "F#°7"), ("Co", "C°7"), ("Cdim/Eb", "C°7"), ("(Ab5)", "A7(b5)"),
    ],
)  # fmt: skip
def test_two_readings_are_asked_about(text: str, asked: str) -> None:
    (sentence,) = doubts(text)
    assert asked in sentence


@pytest.mark.parametrize(
    "text", ["C", "Bb7", "Ab(b5)", "E9", "CΔ7", "C°7", "Cdim7", "Co7", "C9sus4", "C6/9", "N.C."]
)
def test_plain_symbols_raise_no_question(text: str) -> None:
    assert doubts(text) == ()


def test_german_names_only_where_asked_for() -> None:
    assert doubts("H7", german=True) == ()
    with pytest.raises(ChordError):
        doubts("H7")


def test_what_cannot_be_read_is_an_error() -> None:
    with pytest.raises(ChordError):
        doubts("Cq")
