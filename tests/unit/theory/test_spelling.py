"""Spelling of single notes, approach notes and whole lines."""

import pytest

from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Pitch
from changewright.theory.spelling import Manner, Sounding, approach, spell, spell_line, tidy
from changewright.theory.symbols import read_symbol
from changewright.theory.transposition import written_shift

C = Key.parse("C")


def pitches(text: str) -> list[Pitch]:
    return [Pitch.parse(t) for t in text.split()]


def text(found) -> str:
    return " ".join(map(str, found))


# Source: common practice, no source: raised when rising, lowered when falling.
@pytest.mark.parametrize(
    ("target", "below", "above"),
    [
        ("G4", "F#4", "Ab4"),
        ("C5", "B4", "Db5"),
        ("E4", "D#4", "F4"),
        ("Bb4", "A4", "Cb5"),
        ("F4", "E4", "Gb4"),
        ("F#4", "E#4", "G4"),
    ],
)
def test_approach_notes_by_direction(target: str, below: str, above: str) -> None:
    note = Pitch.parse(target)
    assert (str(approach(note, -1)), str(approach(note, 1))) == (below, above)


def test_approach_notes_lie_near() -> None:
    with pytest.raises(ValueError, match="one or two semitones"):
        approach(Pitch.parse("C4"), 3)


# Source: common practice, no source.
@pytest.mark.parametrize(
    ("midi", "chord", "key", "towards", "wanted"),
    [
        (71, "Db7", "Gb", None, "Cb5"),
        (69, "C°7", None, None, "Bbb4"),
        (66, "D7", "G", None, "F#4"),
        (66, "Ebm7", "Db", None, "Gb4"),
        (68, "C7(#5)", None, None, "G#4"),
        (68, "C7", "C", 67, "Ab4"),
        (66, "C7", "C", 67, "F#4"),
        (70, "G7(#9)", "C", None, "A#4"),
        (70, "G7(#9)", "C", 68, "Bb4"),
        (70, "G7(#9)", "C", 67, "Bb4"),
        (61, "Dm7", "C", 62, "C#4"),
        (63, "C6", "C", 62, "Eb4"),
        (63, "C6", "C", 64, "D#4"),
        (71, "Cm6", "Cm", None, "B4"),
        (66, "C7", None, None, "F#4"),
        (61, "C7", None, None, "Db4"),
        (66, None, "C", None, "F#4"),
        (70, None, "C", None, "Bb4"),
        (60, "D|C7", "C", None, "C4"),
        (66, "D|C7", "C", None, "F#4"),
        (68, "Am/G#", "Am", None, "G#4"),
        (60, "N.C.", None, None, "C4"),
    ],
)
def test_spelling_one_note(midi, chord, key, towards, wanted: str) -> None:
    found = spell(
        midi,
        chord=read_symbol(chord) if chord else None,
        key=Key.parse(key) if key else None,
        towards=towards,
    )
    assert str(found) == wanted


@pytest.mark.parametrize(
    ("line", "key", "firm", "manner", "wanted"),
    [
        ("F#4 G4 Gb4 F4", "C", "0000", "usual", "F#4 G4 F#4 F4"),
        ("F#4 G4 Gb4 F4", "F", "0000", "usual", "Gb4 G4 Gb4 F4"),
        ("F#4 G4 Gb4 F4", "F", "1000", "usual", "F#4 G4 F#4 F4"),
        ("Cb5 Bb4", "Gb", "10", "usual", "Cb5 Bb4"),
        ("Cb5 Bb4", "F", "10", "usual", "Cb5 Bb4"),
        ("Cb5 Bb4", "F", "00", "usual", "B4 Bb4"),
        ("Cb5 Bb4", "Gb", "10", "easy", "B4 Bb4"),
        ("E#4 F#4", "F#", "11", "easy", "F4 F#4"),
        ("Bbb4 Ab4", "Db", "11", "usual", "A4 Ab4"),
        ("Bbb4 Ab4", "Db", "11", "strict", "Bbb4 Ab4"),
        ("F##4 G#4", "B", "00", "strict", "F##4 G#4"),
        ("F##4 G#4", "B", "00", "usual", "G4 G#4"),
        ("Fb4 Cb5 Gb4", "Gb", "000", "easy", "E4 B4 Gb4"),
        ("Cb5 Bb4", "Gb", "00", "usual", "Cb5 Bb4"),
        ("Cb5 Bb4", "Db", "00", "usual", "B4 Bb4"),
        ("E#4 F#4", "F#", "00", "usual", "E#4 F#4"),
        ("E#4 F#4", "B", "00", "usual", "F4 F#4"),
    ],
)
def test_tidying_a_bar(line: str, key: str, firm: str, manner: Manner, wanted: str) -> None:
    notes = pitches(line)
    marks = [mark == "1" for mark in firm]
    found = tidy(notes, [1] * len(notes), Key.parse(key), firm=marks, manner=manner)
    assert text(found) == wanted


def test_bars_are_tidied_apart() -> None:
    assert text(tidy(pitches("F#4 Gb4"), [1, 2], C)) == "F#4 Gb4"


TWO_FIVE_ONE = [
    *(Sounding(m, read_symbol("Dm7"), 1) for m in (61, 62, 65, 69, 72)),
    *(Sounding(m, read_symbol("G7(b9)"), 2) for m in (71, 68, 66, 65)),
    *(Sounding(m, read_symbol("Cmaj7"), 3) for m in (64, 63, 64, 67)),
]


def test_spelling_a_line() -> None:
    assert text(spell_line(TWO_FIVE_ONE, C)) == ("C#4 D4 F4 A4 C5 B4 Ab4 Gb4 F4 E4 D#4 E4 G4")


@pytest.mark.parametrize("player", ["trumpet", "alto saxophone", "baritone saxophone", "horn"])
@pytest.mark.parametrize("root", ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"])
def test_a_line_is_spelled_alike_in_every_key_and_part(player: str, root: str) -> None:
    """The shift from concert to written moves the spelling with the key, note for note."""
    key = C.transpose(C.tonic.at(4).to(Key.parse(root).tonic.at(4)))
    concert = Interval(key.tonic.fifths, key.tonic.at(4).to(key.tonic.at(4)).octaves)
    shift = written_shift(instrument(player), key)
    here = [p + concert for p in spell_line(TWO_FIVE_ONE, C, "strict")]
    moved = [
        Sounding(s.midi + concert.semitones, s.chord.transpose(concert), s.bar)
        for s in TWO_FIVE_ONE
    ]
    assert list(spell_line(moved, key, "strict")) == here
    written = [p + shift for p in here]
    assert abs((key.tonic + shift).fifths) <= 6
    assert [p.midi - q.midi for p, q in zip(written, here, strict=True)] == [
        instrument(player).written_up.semitones
    ] * len(here)
    tidied = tidy(written, [s.bar for s in moved], Key(key.tonic + shift))
    assert max(abs(p.name.alter) for p in tidied) <= 1
