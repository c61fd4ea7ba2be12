import pytest

from changewright.band.feel import PIECES, feel, feels, read_feel
from changewright.errors import InputError, UnknownName

# General MIDI Level 1 percussion key map (MMA RP-003), as quoted in the domain reference, K123
GENERAL_MIDI = {
    "kick": 36,
    "cross-stick": 37,
    "snare": 38,
    "closed-hat": 42,
    "foot-hat": 44,
    "open-hat": 46,
    "crash": 49,
    "ride": 51,
    "bell": 53,
    "ride-2": 59,
    "cabasa": 69,
}


def test_the_pieces_of_the_kit_are_those_of_general_midi() -> None:
    assert {piece: PIECES[piece] for piece in GENERAL_MIDI} == GENERAL_MIDI


def test_every_feel_has_what_its_bars_need() -> None:
    assert len(feels()) >= 9
    for one in feels().values():
        low, high = one.tempo
        assert 20 <= low < high <= 400
        assert one.comping.cells
        assert one.drums.time
        assert one.bass.walks or one.bass.patterns


def test_general_midi_programs_of_the_band() -> None:
    # General MIDI Level 1 sound set, counted from 0: 0 acoustic grand piano, 26 electric guitar
    # (jazz), 32 acoustic bass, 33 electric bass (finger); GS kits: 32 jazz, 40 brush
    assert {f.bass.program for f in feels().values()} == {32, 33}
    assert {f.comping.program for f in feels().values()} == {0, 26}
    assert {f.drums.kit for f in feels().values()} == {32, 40}
    assert feel("ballad").drums.kit == 40


def test_a_feel_is_found_by_id_or_name() -> None:
    assert feel("Jazz Waltz") is feel("jazz-waltz") is feel("jazz waltz") is feel("waltz")
    assert feel("12/8") is feel("twelve-eight")
    assert feel("Straight eighths").id == "even-eighths"


def test_no_two_feels_share_a_name() -> None:
    names = [
        n for f in feels().values() for n in {f.id, f.id.replace("-", " "), f.name.lower(), *f.also}
    ]
    assert len(names) == len(set(names))


def test_an_unknown_feel_lists_those_we_know() -> None:
    with pytest.raises(UnknownName, match=r"Did you mean 'swing'.*bossa"):
        feel("swingg")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("id = 'x'\n", "a feel needs 'tempo'"),
        ("= 3", "not a TOML file"),
    ],
)
def test_a_broken_file_says_what_is_wrong(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        read_feel(text, "odd.toml")
    assert "odd.toml" in str(caught.value)


def test_an_unknown_piece_is_named() -> None:
    from importlib.resources import files

    text = files("changewright.band").joinpath("feels/swing.toml").read_text("utf-8")
    with pytest.raises(InputError, match="called 'gong'"):
        read_feel(text.replace("kick =", "gong ="))
