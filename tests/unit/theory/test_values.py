"""Values that can't be built or read, and the small questions a chord answers."""

import pytest

from changewright.errors import UnknownName
from changewright.theory.chord import NO_CHORD, Chord, normal_form
from changewright.theory.instrument import Span
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Interval, Name, Pitch
from changewright.theory.quality import qualities
from changewright.theory.scale import Scale, scale_kind, scale_kinds
from changewright.theory.symbols import read_symbol, write_symbol


@pytest.mark.parametrize("text", ["", "H", "Cbx?", "b", "c", "C4"])
def test_what_is_no_note_name(text: str) -> None:
    with pytest.raises(ValueError, match="not a note name"):
        Name.parse(text)


@pytest.mark.parametrize("text", ["", "C", "H4", "4", "C#b"])
def test_what_is_no_pitch(text: str) -> None:
    with pytest.raises(ValueError, match="not a pitch"):
        Pitch.parse(text)


@pytest.mark.parametrize("text", ["", "M5", "P3", "5", "m", "P0", "X4"])
def test_what_is_no_interval(text: str) -> None:
    with pytest.raises(ValueError, match="interval"):
        Interval.parse(text)


@pytest.mark.parametrize("text", ["", "b", "0", "16", "3b"])
def test_what_is_no_degree(text: str) -> None:
    with pytest.raises(ValueError, match="not a degree"):
        Degree.parse(text)


# Source: arithmetic of the diatonic system.
@pytest.mark.parametrize(
    ("text", "semitones", "steps"),
    [
        ("P1", 0, 0), ("m2", 1, 1), ("A1", 1, 0), ("d2", 0, 1), ("M3", 4, 2), ("A4", 6, 3),
        ("d5", 6, 4), ("d7", 9, 6), ("P8", 12, 7), ("M9", 14, 8), ("M13", 21, 12), ("-M2", -2, -1),
        ("AA4", 7, 3), ("dd5", 5, 4), ("-P8", -12, -7),
    ],
)  # fmt: skip
def test_interval_sizes(text: str, semitones: int, steps: int) -> None:
    interval = Interval.parse(text)
    assert (interval.semitones, interval.steps) == (semitones, steps)
    assert str(interval) == text


@pytest.mark.parametrize(
    ("text", "signature", "words"),
    [
        ("Bb", -2, "B flat major"),
        ("C#m", 4, "C sharp minor"),
        ("E♭ major", -3, "E flat major"),
        ("F# minor", 3, "F sharp minor"),
        ("bb", -2, "B flat major"),
        ("C-", -3, "C minor"),
    ],
)
def test_keys(text: str, signature: int, words: str) -> None:
    key = Key.parse(text)
    assert (key.signature, key.words) == (signature, words)


@pytest.mark.parametrize("text", ["", "H", "C dorian", "Cm major?"])
def test_what_is_no_key(text: str) -> None:
    with pytest.raises(ValueError, match=r"key|note name"):
        Key.parse(text)


def test_a_chord_has_root_and_degrees_or_neither() -> None:
    with pytest.raises(ValueError, match="neither"):
        Chord(None, (Degree(1),))
    with pytest.raises(ValueError, match="neither"):
        Chord(Name(0), ())
    with pytest.raises(ValueError, match="ascending"):
        Chord(Name(0), (Degree(3), Degree(1)))
    with pytest.raises(ValueError, match="no tones"):
        NO_CHORD.tone(Degree(3))


def test_a_span_runs_upwards() -> None:
    with pytest.raises(ValueError, match="low to high"):
        Span.parse("C5 C4")


def test_unknown_scale() -> None:
    with pytest.raises(UnknownName, match="dorian"):
        scale_kind("dorain")
    assert Scale.parse("F Lydian dominant") == scale_kind("lydian_dom").on(Name(-1))


# Source: domain reference 2.5: a sixth stands for the seventh, a suspended fourth for the third.
@pytest.mark.parametrize(
    ("symbol", "guide", "four"),
    [
        ("C7", "3 b7", "1 3 5 b7"),
        ("Cm6", "b3 6", "1 b3 5 6"),
        ("C9sus4", "4 b7", "1 4 5 b7"),
        ("C°7", "b3 bb7", "1 b3 b5 bb7"),
        ("C", "3", "1 3 5"),
        ("C13(b9)", "3 b7", "1 3 5 b7"),
        ("C7alt", "3 b7", "1 3 b7"),
        ("C11", "b7", "1 5 b7"),
    ],
)
def test_guide_tones_and_plain_chord_tones(symbol: str, guide: str, four: str) -> None:
    chord = read_symbol(symbol)
    assert " ".join(map(str, chord.guide_tones)) == guide
    assert " ".join(map(str, chord.four)) == four


# Source: common practice, no source.
@pytest.mark.parametrize(
    ("symbol", "is_"),
    [
        ("C", "major"),
        ("C6", "major"),
        ("Cmaj7(#11)", "major"),
        ("C7", "dominant"),
        ("C7(#5)", "dominant"),
        ("C9sus4", "dominant"),
        ("C7alt", "dominant"),
        ("Cm", "minor"),
        ("Cm6", "minor"),
        ("Cm(maj7)", "minor"),
        ("Cm7(#5)", "minor"),
        ("Cm7(b5)", "half_diminished"),
        ("C°7", "diminished"),
        ("Cdim", "diminished"),
        ("C5", ""),
        ("Csus4", ""),
        ("N.C.", "silent"),
    ],
)
def test_a_chord_is_of_one_kind(symbol: str, is_: str) -> None:
    kinds = ("major", "dominant", "minor", "half_diminished", "diminished", "silent")
    found = [kind for kind in kinds if getattr(read_symbol(symbol), f"is_{kind}")]
    assert found == ([is_] if is_ else [])


@pytest.mark.parametrize(
    ("given", "normal"),
    [
        ("1 2 3 5", "1 3 5 9"),
        ("1 3 4 5", "1 3 5 11"),
        ("1 2 5", "1 2 5"),
        ("1 4 5 11", "1 4 5"),
        ("1 3 5 13", "1 3 5 6"),
        ("1 3 5 6 b7", "1 3 5 b7 13"),
        ("1 b3 3 5", "1 3 5 #9"),
        ("1 3 b5 5 b7", "1 3 5 b7 #11"),
        ("1 3 5 #5 b7", "1 3 5 b7 b13"),
        ("1 3 5 bb7", "1 3 5 6"),
        ("1 b3 b5 #5 bb7", "1 b3 b5 bb7 b13"),
        ("8 10 12 14", "1 3 5 7"),
        ("5", "1 5"),
    ],
)
def test_normal_form(given: str, normal: str) -> None:
    assert " ".join(map(str, normal_form(map(Degree.parse, given.split())))) == normal


@pytest.mark.parametrize("quality", qualities().values(), ids=lambda q: q.id)
def test_the_quality_table_is_in_normal_form_and_prints_as_it_says(quality) -> None:
    assert normal_form(quality.degrees) == quality.degrees
    assert read_symbol(write_symbol(quality.on(Name(0)))) == quality.on(Name(0))
    assert quality.words


def test_there_are_51_qualities_and_all_modes() -> None:
    assert len(qualities()) == 51
    assert len({k.degrees for k in scale_kinds().values()}) == len(scale_kinds())
    families = [k.family for k in scale_kinds().values()]
    for parent in ("major", "melodic minor", "harmonic minor", "harmonic major"):
        for number in ("1st", "2nd", "3rd", "4th", "5th", "6th", "7th"):
            wanted = f"{number} mode of {parent}"
            assert families.count(wanted) == 1
