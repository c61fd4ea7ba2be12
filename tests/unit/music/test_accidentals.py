from changewright.music.accidentals import Accidental, Spelled, accidentals, signature_alters
from changewright.theory.key import Key
from changewright.theory.pitch import Pitch


def shown(key: str, *bars: str) -> list[list[str]]:
    """Accidentals as text: ``b n #``, ``(n)`` for a courtesy, ``.`` for none; ``~`` marks a tie."""
    signs = {-2: "bb", -1: "b", 0: "n", 1: "#", 2: "x"}

    def text(a: Accidental | None) -> str:
        return "." if a is None else f"({signs[a.alter]})" if a.courtesy else signs[a.alter]

    rows = [
        [Spelled(Pitch.parse(p.lstrip("~")), p.startswith("~")) for p in bar.split()]
        for bar in bars
    ]
    return [[text(a) for a in row] for row in accidentals(Key.parse(key), rows)]


def test_the_signature_is_not_repeated():
    assert shown("F", "F4 A4 C5 Bb4") == [[".", ".", ".", "."]]


def test_an_accidental_holds_for_its_octave_until_the_bar_line():
    assert shown("F", "Eb5 Eb5 D5 E5") == [["b", ".", ".", "n"]]


def test_another_octave_of_the_same_bar_gets_its_own_sign():
    assert shown("C", "F#4 F5") == [["#", "(n)"]]
    assert shown("C", "F#4 F#5") == [["#", "#"]]


def test_the_bar_after_reminds_once():
    assert shown("F", "Eb5 D5", "E5 E5") == [["b", "."], ["(n)", "."]]
    assert shown("F", "Eb5 D5", "Eb5") == [["b", "."], ["b"]]


def test_two_bars_later_nothing_needs_saying():
    assert shown("F", "Eb5", "D5", "E5") == [["b"], ["."], ["."]]


def test_a_tie_carries_its_accidental_over_the_bar_line_and_no_further():
    assert shown("C", "F#4", "~F#4 G4 F#4") == [["#"], [".", ".", "#"]]
    assert shown("C", "F#4", "~F#4 F4") == [["#"], [".", "(n)"]]


def test_signatures_alter_the_letters_that_musicians_expect():
    # the order of sharps and flats; common practice, no source
    assert "".join(signature_alters(Key.parse("B"))) == "FCGDA"
    assert "".join(signature_alters(Key.parse("Gb"))) == "BEADGC"
    assert signature_alters(Key.parse("C")) == {}
    assert "".join(signature_alters(Key.parse("Cm"))) == "BEA"
