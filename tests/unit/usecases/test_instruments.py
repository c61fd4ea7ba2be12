from dataclasses import replace
from pathlib import Path

import pytest

from changewright.errors import InputError, UnknownName
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.document import sheet_document, sheet_from
from changewright.theory.instrument import instruments
from changewright.theory.own_instruments import instrument_from_row, instrument_row
from changewright.usecases.instruments import MOST_BYTES, known_instruments, named_instrument
from changewright.usecases.lesson import LessonRequest, plan_lesson

EUPHONIUM = """[instrument.euphonium]
aliases = ["workshop euphonium"]
clef = "treble"
written_up = "M9"
beginner = "C4 C5"
professional = "F#3 C6"
breath_s = [4, 7, 10]
awkward_notes = ["C#4"]
"""


@pytest.fixture
def own(tmp_path: Path) -> Path:
    path = tmp_path / "workshop.toml"
    path.write_text(EUPHONIUM)
    return path


def test_an_own_instrument_is_known_beside_the_table(own: Path) -> None:
    assert len(known_instruments(own)) == len(known_instruments()) + 1
    assert named_instrument("Workshop Euphonium", own).id == "euphonium"
    assert named_instrument("flute", own) == named_instrument("flute")
    with pytest.raises(UnknownName):
        named_instrument("euphonium")


def test_a_fault_says_file_line_and_field(own: Path) -> None:
    own.write_text(EUPHONIUM.replace('"M9"', '"M5"'))
    with pytest.raises(InputError, match=r"workshop.toml, line 4: .*written_up.*M5"):
        named_instrument("euphonium", own)


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"a" * (MOST_BYTES + 1), b"[[[", b""])
def test_what_is_no_file_of_instruments_is_refused(own: Path, content: bytes) -> None:
    own.write_bytes(content)
    with pytest.raises(InputError, match=r"workshop.toml"):
        known_instruments(own)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        known_instruments(tmp_path / "gone.toml")


@pytest.mark.parametrize("name", sorted(instruments()))
def test_an_instrument_goes_into_a_table_and_back(name: str) -> None:
    known = instruments()[name]
    assert instrument_from_row(known.id, instrument_row(known)) == known


def test_an_exercise_keeps_its_own_instrument_without_the_file(own: Path) -> None:
    request = LessonRequest("quayside-blues", "euphonium", families=("root-up",), instruments=own)
    (sheet,) = plan_lesson(request).sheets
    own.unlink()
    assert sheet_from(sheet_document(sheet)) == sheet
    assert sheet.instrument.id == "euphonium"


def test_a_table_instrument_is_kept_by_its_name_alone(own: Path) -> None:
    request = LessonRequest("quayside-blues", "flute", families=("root-up",), instruments=own)
    (sheet,) = plan_lesson(request).sheets
    assert "instrument_is" not in sheet_document(sheet)
    changed = replace(sheet, instrument=replace(sheet.instrument, gm_program=74))
    assert sheet_from(sheet_document(changed)) == changed


def test_awkward_notes_of_an_own_instrument_are_kept_away_from(own: Path) -> None:
    player = Player(named_instrument("euphonium", own))
    assert [str(p + player.instrument.written_up) for p in player.awkward(level(2))] == ["C#4"]
    assert player.awkward(level(5)) == ()
