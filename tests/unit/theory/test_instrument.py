"""The instrument table, and a player's own instruments."""

from itertools import pairwise

import pytest
from music21 import instrument as music21_instrument

from changewright.errors import InputError, UnknownName
from changewright.theory.instrument import STAGES, crossing, instrument, instruments
from changewright.theory.key import Key
from changewright.theory.own_instruments import instruments_from_toml
from changewright.theory.pitch import Pitch

# Transpositions beside music21 10.5, sounding minus written in semitones. It has no flugelhorn,
# and gives guitar, electric bass and tenor voice no octave although they are written an octave
# above their sound (common practice).
MUSIC21 = {
    "flute": "Flute",
    "clarinet": "Clarinet",
    "soprano saxophone": "SopranoSaxophone",
    "alto saxophone": "AltoSaxophone",
    "tenor saxophone": "TenorSaxophone",
    "baritone saxophone": "BaritoneSaxophone",
    "trumpet": "Trumpet",
    "trombone": "Trombone",
    "horn": "Horn",
    "tuba": "Tuba",
    "violin": "Violin",
    "viola": "Viola",
    "cello": "Violoncello",
    "double bass": "Contrabass",
    "piano": "Piano",
    "vibraphone": "Vibraphone",
}
# Lowest written notes that music21 knows and gives otherwise: flute without a B foot, baritone
# without a low A, the horn's pedal range.
LOWER_OR_HIGHER = {"flute": "C4", "baritone saxophone": "Bb3", "horn": "C2"}


def test_there_are_25_instruments() -> None:
    assert len(instruments()) == 25


@pytest.mark.parametrize(("ours", "theirs"), MUSIC21.items())
def test_transposition_and_lowest_note_as_in_music21(ours: str, theirs: str) -> None:
    other = getattr(music21_instrument, theirs)()
    up = instrument(ours).written_up.semitones
    assert up == -(other.transposition.semitones if other.transposition else 0)
    if other.lowestNote is not None:
        low = str(instrument(ours).written_range("professional").low)
        assert other.lowestNote.nameWithOctave.replace("-", "b") == LOWER_OR_HIGHER.get(ours, low)


@pytest.mark.parametrize("player", instruments().values(), ids=lambda i: i.id)
def test_ranges_grow_with_the_stage(player) -> None:
    spans = [player.written_range(stage) for stage in STAGES]
    for inner, outer in pairwise(spans[1:]):
        assert inner.low in outer
        assert inner.high in outer
    assert spans[0].low in spans[-1]
    assert spans[0].high in spans[-1]


@pytest.mark.parametrize("player", instruments().values(), ids=lambda i: i.id)
def test_awkward_notes_lie_on_the_instrument(player) -> None:
    whole = player.written_range("professional")
    for pitch in (*player.awkward_notes, *(p for pair in player.crossings for p in pair)):
        assert pitch in whole
    assert not player.awkward_notes or player.awkward


def test_crossings_work_both_ways() -> None:
    alto = instrument("alto sax")
    assert alto.crosses(Pitch.parse("D5"), Pitch.parse("Db5"))
    assert not alto.crosses(Pitch.parse("D5"), Pitch.parse("E5"))
    assert alto.concert_keys[0] == Key.parse("Ab")


@pytest.mark.parametrize("name", ["Alto  Saxophone", "alto sax", "ALTO SAXOPHONE"])
def test_names_and_aliases(name: str) -> None:
    assert instrument(name).id == "alto saxophone"


def test_unknown_instrument_lists_those_we_know() -> None:
    with pytest.raises(UnknownName, match="Did you mean 'trumpet'"):
        instrument("trumpett")


EUPHONIUM = """
# The workshop's own
[instrument.euphonium]
aliases = ["baritone horn"]
clef = "treble"
written_up = "M9"
beginner = "C4 C5"
professional = "F#3 C6"
breath_s = [4, 7, 10]
gm_program = 58
awkward_notes = ["C#4"]
crossings = ["C#4-D4"]
concert_keys = ["Bb", "Eb"]
"""


def test_own_instruments_join_the_table() -> None:
    table = instruments_from_toml(EUPHONIUM)
    own = instrument("baritone horn", table)
    assert own.name == "Euphonium"
    assert str(own.written_range("intermediate")) == "F#3 to C6"
    assert str(own.written_range("comfort")) == "C4 to C5"
    assert str(own.concert_range("beginner")) == "Bb2 to Bb3"
    assert own.breath_s == (4.0, 7.0, 10.0)
    assert own.crosses(Pitch.parse("D4"), Pitch.parse("C#4"))
    assert instrument("trumpet", table) == instrument("trumpet")
    with pytest.raises(UnknownName):
        instrument("euphonium")


def test_own_instrument_replaces_one_of_the_same_name() -> None:
    table = instruments_from_toml('[instrument.flute]\nclef="treble"\nprofessional="C4 C7"\n')
    assert len(table) == 25
    assert str(instrument("flute", table).written_range("professional")) == "C4 to C7"


@pytest.mark.parametrize(
    ("change", "line", "message"),
    [
        (('clef = "treble"', 'clef = "trebel"'), 5, "unknown clef 'trebel'"),
        (('clef = "treble"', 'cleff = "treble"'), 5, "Did you mean clef?"),
        (('clef = "treble"', ""), 3, "a clef is missing"),
        (('"M9"', '"M5"'), 6, "no such interval: 'M5'"),
        (('"C4 C5"', '"C4"'), 7, "write it like E3 G6"),
        (('"C4 C5"', '"C5 C4"'), 7, "a range runs from low to high"),
        (('"C4 C5"', '"C4 C7"'), 7, "the beginner range is wider than the intermediate range"),
        (('professional = "F#3 C6"', ""), 3, "the professional range is missing"),
        (("[4, 7, 10]", "[4, 7]"), 9, "three numbers of seconds"),
        (("[4, 7, 10]", "[0, 7, 10]"), 9, "three numbers of seconds"),
        (("58", "128"), 10, "gm_program is 0 to 127"),
        (('"C#4"]', '"H4"]'), 11, "not a pitch: 'H4'"),
        (('"C#4-D4"', '"C#4"'), 12, "write it like C#5-D5"),
        (('["Bb", "Eb"]', '"Bb"'), 13, "a list of texts"),
    ],
)
def test_faults_in_own_instruments_have_their_place(change, line: int, message: str) -> None:
    with pytest.raises(InputError) as caught:
        instruments_from_toml(EUPHONIUM.replace(*change), "workshop.toml")
    assert caught.value.where.file == "workshop.toml"
    assert caught.value.where.line == line
    assert message in str(caught.value)


@pytest.mark.parametrize(
    "text", ["", "x = 1", "[instrument]\nflute = 3", "not toml", "[" * 2000, "a" * 300_000]
)
def test_what_is_no_instrument_file_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        instruments_from_toml(text)


def test_a_crossing_has_two_notes() -> None:
    with pytest.raises(ValueError, match="C#5-D5"):
        crossing("C5")
