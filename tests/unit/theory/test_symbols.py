"""Chord symbols: reading, writing, and what is said of those that can't be read."""

import time

import pytest

from changewright.errors import ChordError
from changewright.theory.chord import NO_CHORD, Chord
from changewright.theory.pitch import Name
from changewright.theory.symbols import LONGEST_SYMBOL, read_symbol, write_symbol
from tests.unit.theory.spellings import REFUSED, spelled


def degrees(text: str) -> str:
    return " ".join(map(str, read_symbol(text).degrees))


@pytest.mark.parametrize(("text", "wanted"), spelled())
def test_spelling_means_what_a_player_hears(text: str, wanted: str) -> None:
    assert degrees(text) == wanted


@pytest.mark.parametrize("root", ["Bb", "F#", "Eb", "Cb", "G#"])
def test_the_root_changes_nothing_behind_it(root: str) -> None:
    skipped = ("Cb5,", "C5", "C-", "C+")
    for text, wanted in spelled():
        if not text.startswith(skipped):
            assert degrees(root + text[1:]) == wanted, root + text[1:]
            assert read_symbol(root + text[1:]).root == Name.parse(root)


@pytest.mark.parametrize(("text", "column"), REFUSED.items())
def test_error_points_at_the_character(text: str, column: int) -> None:
    with pytest.raises(ChordError) as caught:
        read_symbol(text)
    assert caught.value.where.column == column


@pytest.mark.parametrize(
    ("text", "nearest"),
    [
        ("Fmajj7", "Fmaj7"),
        ("cm7", "Cm7"),
        ("Hm7", "Bm7"),
        ("C7(b9", "C7(b9)"),
        ("Bbmin7b5)", "Bbmin7b5"),
        ("Gm7/b", "Gm7/B"),
        ("Ebsuss", "Ebsus"),
        ("A7#", "A7"),
    ],
)
def test_error_suggests_the_nearest_reading(text: str, nearest: str) -> None:
    with pytest.raises(ChordError) as caught:
        read_symbol(text)
    assert nearest in caught.value.remedy


@pytest.mark.parametrize("text", ["D Dorian", "X9", "", "C" + "7" * 40])
def test_nothing_is_suggested_for_what_is_like_nothing(text: str) -> None:
    with pytest.raises(ChordError) as caught:
        read_symbol(text)
    assert caught.value.remedy == "Write it like Bbm7 or F7(b9)."


def test_the_whole_message() -> None:
    with pytest.raises(ChordError) as caught:
        read_symbol("Fmajj7")
    assert str(caught.value) == (
        "column 5: can't read the chord 'Fmajj7': a second major mark\n"
        "    Fmajj7\n"
        "        ^\n"
        "Did you mean Fmaj7 or Fmaj?"
    )


# The accidental belongs to the root first. Source: common practice, no source.
@pytest.mark.parametrize(
    ("text", "root", "wanted"),
    [
        ("Bb7", "Bb", "1 3 5 b7"),
        ("Eb9", "Eb", "1 3 5 b7 9"),
        ("Ab5", "Ab", "1 5"),
        ("Bb5", "Bb", "1 5"),
        ("E7(b9)", "E", "1 3 5 b7 b9"),
        ("Eb7b9", "Eb", "1 3 5 b7 b9"),
        ("Gb5,7", "G", "1 3 b5 b7"),
        ("Gbb5,7", "Gb", "1 3 b5 b7"),
        ("Abb5", "Ab", "1 3 b5"),
        ("Bbb7", "Bbb", "1 3 5 b7"),
        ("F##m7", "F##", "1 b3 5 b7"),
        ("B♭7", "Bb", "1 3 5 b7"),
        ("B flat 7", "Bb", "1 3 5 b7"),
        ("Bflat7", "Bb", "1 3 5 b7"),
        ("C sharp minor 7 flat 5", "C#", "1 b3 b5 b7"),
    ],
)
def test_accidental_binds_to_the_root_first(text: str, root: str, wanted: str) -> None:
    chord = read_symbol(text)
    assert chord.root == Name.parse(root)
    assert degrees(text) == wanted


@pytest.mark.parametrize(
    ("text", "bass", "wanted"),
    [
        ("C/E", "E", "1 3 5"),
        ("C7/Bb", "Bb", "1 3 5 b7"),
        ("C6/9", None, "1 3 5 6 9"),
        ("C6/9/G", "G", "1 3 5 6 9"),
        ("Am7b5 / D", "D", "1 b3 b5 b7"),
        ("Ebdim7/Bbb", "Bbb", "1 b3 b5 bb7"),
        ("Gsus/C", "C", "1 4 5"),
        ("C7(b9/#11)/E", "E", "1 3 5 b7 b9 #11"),
    ],
)
def test_slash_is_a_bass_only_before_a_letter(text: str, bass: str | None, wanted: str) -> None:
    assert degrees(text) == wanted
    assert read_symbol(text).bass == (Name.parse(bass) if bass else None)


# Source: Unicode names of the signs; SMuFL's chord symbols U+E870 to U+E874.
@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("C−7", "Cm7"), ("C–7", "Cm7"), ("C‑7", "Cm7"), ("C\ue8747", "Cm7"), ("C¯7", "Cm7"),
        ("C∆7", "Cmaj7"), ("C△7", "Cmaj7"), ("CΔ⁷", "Cmaj7"), ("C\ue8737", "Cmaj7"),
        ("Cº7", "Cdim7"), ("C˚7", "Cdim7"), ("C○7", "Cdim7"), ("Cᵒ⁷", "Cdim7"),
        ("C\ue8707", "Cdim7"), ("CØ7", "Cm7b5"), ("C∅", "Cm7b5"), ("C\ue8717", "Cm7b5"),
        ("C＋", "C+"), ("C\ue872", "C+"), ("Cᵐ⁷", "Cm7"), ("Cᵐᵃʲ⁷", "Cmaj7"), ("Ｃ７", "C7"),
        ("B♭⁷⁽♭⁹⁾", "Bb7b9"), ("F×7", "F##7"), ("B𝄫7", "Bbb7"), ("C7［♯9］", "C7#9"),
        ("C6⁄9", "C6/9"), ("C7♮9", "C9"), ("C₇", "C7"), ("Cᴹ⁷", "Cmaj7"), ("D｜C", "D|C"),
    ],
)  # fmt: skip
def test_look_alikes(text: str, plain: str) -> None:
    assert read_symbol(text) == read_symbol(plain)


@pytest.mark.parametrize("text", ["N.C.", "NC", "n.c.", "N.C", "N/C", "no chord", "(N.C.)"])
def test_no_chord(text: str) -> None:
    assert read_symbol(text) == NO_CHORD


@pytest.mark.parametrize("text", ["D|C7", "D | C7", "D/C7", "(D|C7)"])
def test_polychord(text: str) -> None:
    chord = read_symbol(text)
    assert chord == Chord(Name(0), read_symbol("C7").degrees, upper=read_symbol("D"))
    assert write_symbol(chord) == "D|C7"
    # D over C7 sounds as C13(#11). Source: common practice, no source.
    assert chord.pcs == read_symbol("C13(#11)").pcs


def test_parentheses_around_the_whole_chord_are_optional_chords() -> None:
    assert read_symbol("(Dm7b5)") == read_symbol("Dm7(b5)")
    assert read_symbol(" ( C7(b9) ) ") == read_symbol("C7(b9)")


def test_german_names_only_where_asked_for() -> None:
    assert read_symbol("H7", german=True) == read_symbol("B7")
    assert read_symbol("B7", german=True) == read_symbol("Bb7")
    assert read_symbol("Fism7/Cis", german=True) == read_symbol("F#m7/C#")
    assert read_symbol("Esus4", german=True) == read_symbol("Esus4")
    assert read_symbol("Es7", german=True) == read_symbol("Eb7")


@pytest.mark.parametrize(
    ("text", "symbolic", "abbreviated", "plain"),
    [
        ("Bb-7", "B♭−7", "Bbm7", "Bbmi7"),
        ("Fj7", "FΔ7", "Fmaj7", "Fma7"),
        ("Ebm7b5", "E♭ø7", "Ebm7(b5)", "Ebmi7(b5)"),
        ("Co7", "C°7", "C°7", "Cdim7"),
        ("Co", "Cdim", "Cdim", "Cdim"),
        ("C+", "C+", "C+", "Caug"),
        ("F#-j7", "F♯−Δ7", "F#m(maj7)", "F#mi(ma7)"),
        ("G79b13b", "G7(♭9,♭13)", "G7(b9,b13)", "G7(b9,b13)"),
        ("Csus79", "C9sus4", "C9sus4", "C9sus4"),
        ("C2/E", "C(add9)/E", "C(add9)/E", "C(add9)/E"),
        ("D69", "D6/9", "D6/9", "D6/9"),
        ("A+79#", "A7(♯5,♯9)", "A7(#5,#9)", "A7(#5,#9)"),
        ("Calt", "C7alt", "C7alt", "C7alt"),
        ("NC", "N.C.", "N.C.", "N.C."),
        ("D | C7", "D|C7", "D|C7", "D|C7"),
    ],
)
def test_three_ways_to_write(text: str, symbolic: str, abbreviated: str, plain: str) -> None:
    chord = read_symbol(text)
    assert write_symbol(chord, "symbolic") == symbolic
    assert write_symbol(chord, "abbreviated") == write_symbol(chord) == abbreviated
    assert write_symbol(chord, "plain") == plain


@pytest.mark.parametrize(
    "hostile",
    [
        "C" + "7" * 90,
        "C" + "(" * 90,
        "C7(" + "b9," * 30,
        "x" * 10_000_000,
        "C" + "b" * 95,
        "\0" * 40,
    ],
)
def test_hostile_text_is_refused_at_once(hostile: str) -> None:
    start = time.perf_counter()
    with pytest.raises(ChordError) as caught:
        read_symbol(hostile)
    assert time.perf_counter() - start < 0.2
    assert len(str(caught.value)) < 6 * LONGEST_SYMBOL
