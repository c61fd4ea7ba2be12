"""Laws of chord symbols and of what MusicXML says of a chord."""

import time

from hypothesis import given
from hypothesis import strategies as st

from changewright.errors import ChordError
from changewright.theory.chord import Chord, normal_form
from changewright.theory.kinds import chord_of, harmonies_of
from changewright.theory.pitch import Degree, Interval
from changewright.theory.symbols import Style, read_symbol, write_symbol
from tests.strategies import all_chords, intervals, meanings

styles = st.sampled_from(["symbolic", "abbreviated", "plain"])
alphabet = st.sampled_from("CDEFGABb#♭♯m-−+Δ°øo7969135(),/|jMadsulti n.%^")
words = st.sampled_from(
    ["C", "Bb", "m", "maj", "7", "9", "b5", "sus", "add", "no", "alt", "(", ")"]
)


@given(all_chords, styles)
def test_reading_what_was_written_is_the_identity_on_meaning(chord: Chord, style: Style) -> None:
    assert read_symbol(write_symbol(chord, style)) == chord


@given(all_chords, all_chords, styles)
def test_one_meaning_has_one_spelling(a: Chord, b: Chord, style: Style) -> None:
    assert (write_symbol(a, style) == write_symbol(b, style)) == (a == b)


@given(all_chords, intervals, styles)
def test_writing_commutes_with_transposing(chord: Chord, by: Interval, style: Style) -> None:
    moved = read_symbol(write_symbol(chord, style)).transpose(by)
    assert moved == chord.transpose(by)


@given(meanings, st.permutations(range(6)))
def test_the_order_of_degrees_means_nothing(degrees: tuple[Degree, ...], order: list[int]) -> None:
    shuffled = [d for i in order for d in degrees[i::6]]
    assert normal_form(shuffled) == degrees == normal_form(degrees)


@given(all_chords, styles)
def test_musicxml_says_every_chord_without_loss(chord: Chord, style: Style) -> None:
    assert chord_of(harmonies_of(chord, style)) == chord


@given(st.text(max_size=80) | st.text(alphabet, max_size=40) | st.lists(words).map("".join))
def test_any_text_is_a_chord_or_an_error_with_its_place(text: str) -> None:
    start = time.perf_counter()
    chord, error = read_or_error(text)
    assert time.perf_counter() - start < 1.0
    if chord is not None:
        assert read_symbol(write_symbol(chord)) == chord
    if error is not None:
        assert error.where.column is not None
        assert 1 <= error.where.column <= len(text) + 1
        assert str(error).startswith(f"column {error.where.column}: ")


def read_or_error(text: str) -> tuple[Chord | None, ChordError | None]:
    try:
        return read_symbol(text), None
    except ChordError as error:
        return None, error
