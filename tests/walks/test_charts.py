"""Charts, scales, instruments and parts from the command line, as a bandleader meets them."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from changewright.cli.main import app
from changewright.errors import ChangewrightError
from changewright.usecases.lesson_folder import load_assignment

HEAVE = """title: Heave
key: F
| F6 | Gm7 C7 |
melody | - C5:1/2 A4 F4:2 | ~:1 G4:1/3 A4 Bb4 C5:2 |
"""
EUPHONIUM = """[instrument.euphonium]
clef = "treble"
written_up = "M9"
beginner = "C4 C5"
professional = "F#3 C6"
"""


def _run(*args: str | Path) -> Result:
    return CliRunner().invoke(app, [str(arg) for arg in args])


def _said(*args: str | Path) -> str:
    result = _run(*args)
    assert result.exit_code == 0, result.output
    return result.output


def _refused(*args: str | Path) -> str:
    result = _run(*args)
    assert isinstance(result.exception, ChangewrightError)
    return str(result.exception)


@pytest.fixture
def heave(tmp_path: Path) -> Path:
    path = tmp_path / "heave.txt"
    path.write_text(HEAVE)
    return path


def test_a_chart_goes_through_musicxml_and_comes_back_with_its_melody(
    tmp_path: Path, heave: Path
) -> None:
    _said("chart", heave, "-o", tmp_path / "heave.mxl")
    _said("chart", tmp_path / "heave.mxl", "-o", tmp_path / "heave.musicxml")
    back = _said("chart", tmp_path / "heave.musicxml")
    assert back == _said("chart", heave)
    assert "melody | - C5:1/2 A4 F4:2 |" in back


def test_a_chart_moves_to_a_key_and_to_a_part(heave: Path) -> None:
    assert "| Ab6 | Bbm7 Eb7 |" in _said("chart", heave, "--key", "Ab")
    part = _said("chart", heave, "--part", "alto saxophone")
    assert "| D6 | Em7 A7 |" in part
    assert "A5:1/2 F#5 D5:2" in part


def test_a_chart_is_written_whole_or_not_at_all(tmp_path: Path, heave: Path) -> None:
    assert ".mxl" in _refused("chart", heave, "-o", tmp_path / "heave.pdf")
    assert "can't read the key" in _refused("chart", heave, "--key", "Q", "-o", tmp_path / "a.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["heave.txt"]


def test_a_doubtful_symbol_is_asked_about_after_the_table(tmp_path: Path) -> None:
    chart = tmp_path / "doubtful.txt"
    chart.write_text("title: Doubtful\nkey: F\n| F6 | Ab5 C2 | B° | F6 |\n")
    said = _said("read", chart)
    assert said.index("because") < said.index("To ask whoever wrote the chart:")
    assert "bar 2: Ab5 is read with the root Ab; for A with a flat 5 write A7(b5)." in said
    assert "bar 3: B° is a diminished triad as typed; most players play B°7." in said
    assert "To ask whoever" not in _said("read", "quayside-blues")


def test_scales_are_looked_up_both_ways() -> None:
    assert "C Mixolydian b9 b13" in _said("scales", "C7(b9)")
    assert "F13sus4" in _said("scales", "--of", "F mixolydian")
    assert "one chord, or one scale" in _refused("scales")
    assert "can't read the chord" in _refused("scales", "Fmajj7")


def test_an_own_instrument_is_heard_later_without_its_file(tmp_path: Path) -> None:
    own = tmp_path / "workshop.toml"
    own.write_text(EUPHONIUM)
    options = ("--instruments", own, "--family", "root-up", "-o", tmp_path / "lesson")
    _said("lesson", "quayside-blues", "--for", "euphonium", *options)
    own.unlink()
    asked = load_assignment(tmp_path / "lesson", 1)
    assert asked.sheet.instrument.name == "Euphonium"
    heard = _said(
        "hear", tmp_path / "lesson" / "1-root-up.mid", "--lesson", tmp_path / "lesson",
        "--exercise", "1", "--json",
    )  # fmt: skip
    assert json.loads(heard)["instrument"] == "euphonium"


def test_a_wrong_own_instrument_says_where(tmp_path: Path) -> None:
    own = tmp_path / "workshop.toml"
    own.write_text(EUPHONIUM.replace('"treble"', '"trebel"'))
    message = _refused(
        "lesson", "quayside-blues", "--for", "euphonium", "--instruments", own,
        "-o", tmp_path / "lesson",
    )  # fmt: skip
    assert message.startswith("workshop.toml, line 2: instrument 'euphonium': clef:")
    assert not (tmp_path / "lesson").exists()


def test_a_group_gets_its_parts(tmp_path: Path) -> None:
    readers = ("C treble", "C bass", "B flat", "E flat")
    said = _said(
        "parts", "quayside-blues", *(f"--for={name}" for name in readers),
        "--level", "2", "-o", tmp_path / "parts",
    )  # fmt: skip
    assert all(f"{name}:" in said for name in ("C treble", "C bass", "B-flat", "E-flat"))
    assert len(list((tmp_path / "parts").glob("*.pdf"))) == len(readers)
    assert "written G" in (tmp_path / "parts" / "proof.txt").read_text("utf-8")


@pytest.mark.parametrize("style", ["symbolic", "abbreviated", "plain"])
def test_chord_symbols_come_in_three_styles(tmp_path: Path, style: str) -> None:
    options = ("--chords", style, "--family", "root-up", "-o", tmp_path / "lesson")
    _said("lesson", "slow-leak-astern", "--for", "flute", *options)
    assert (tmp_path / "lesson" / "lesson.pdf").read_bytes().startswith(b"%PDF")
    assert "unknown style" in _refused(
        "lesson", "slow-leak-astern", "--for", "flute", "--chords", "big"
    )
