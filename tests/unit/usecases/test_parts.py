"""Parts of a mixed group sound together: source for the octave rule: domain reference 6."""

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError, Refusal, UnknownName
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.line import Line, Note
from changewright.music.notation import notate
from changewright.music.promise import Leaps, Within
from changewright.music.sheet import Recipe, Sheet
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.own_instruments import instruments_from_toml
from changewright.theory.pitch import Pitch
from changewright.usecases.part_octaves import Fold, PartRefused, moved_for
from changewright.usecases.parts import Parts, PartsRequest, plan_parts
from changewright.usecases.parts_folder import MARKER, PROOF, write_parts

GROUP = ("C treble", "C bass", "B flat", "E flat", "F")
BAND = ("flute", "alto saxophone", "trombone", "tuba")


def _sounding(sheet: Sheet) -> list[tuple[Fraction, Fraction, int]]:
    return [(n.onset, n.duration, n.pitch.midi % 12) for n in sheet.line.notes]


def _check_together(parts: Parts, number: int) -> None:
    first = parts.parts[0]
    for part in parts.parts:
        reach = Player(part.edition.instrument).spans(level(number))[-1]
        for sheet, lead, move in zip(part.sheets, first.sheets, part.moves, strict=True):
            assert _sounding(sheet) == _sounding(lead)
            assert sheet.bars == lead.bars
            assert sheet.recipe.label == lead.recipe.label
            assert sheet.key == lead.key
            outside = [n.onset for n in sheet.line.notes if n.pitch not in reach]
            assert {sheet.bar_at(onset).number for onset in outside} == set(move.beyond)
            assert broken(sheet) == ()
            assert abs(notate(sheet).key.signature) <= 6


@pytest.mark.parametrize(
    ("number", "key", "names"),
    [
        (1, "F", GROUP[:4]),
        (2, "B", GROUP[:4]),
        (3, "Gb", GROUP[:4]),
        (4, "F", GROUP),
        (5, "B", GROUP),
        (5, "E", GROUP),
    ],
)
def test_the_parts_of_a_group_sound_together(number: int, key: str, names) -> None:
    parts = plan_parts(PartsRequest("quayside-blues", names, level=number, key=key))
    assert [part.edition.id for part in parts.parts] == [
        name.lower().replace(" ", "-") for name in names
    ]
    _check_together(parts, number)


def test_a_band_of_instruments_sounds_together_too() -> None:
    parts = plan_parts(PartsRequest("slow-leak-astern", BAND, level=2))
    assert len(parts.parts) == len(BAND)
    _check_together(parts, 2)
    assert parts.parts[3].moves[0].octaves < parts.parts[0].moves[0].octaves


WHISTLE = '[instrument."bosun\'s whistle"]\nclef = "treble"\nprofessional = "D5 G5"\n'


def test_who_can_not_have_the_part_is_refused_with_the_reason(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(WHISTLE)
    names = (*BAND, "Bosun's whistle")
    parts = plan_parts(PartsRequest("quayside-blues", names, level=1, instruments=own))
    (refused,) = parts.refused
    assert refused.edition.id == "bosun-s-whistle"
    assert "written D5 to G5" in refused.reason
    assert "without a rest" in refused.reason or "in no octave" in refused.reason
    assert [part.edition.id for part in parts.parts] == [b.replace(" ", "-") for b in BAND]


def test_who_must_leave_the_range_of_the_level_is_told_where() -> None:
    """A beginner's horn and tuba have only a fifth in common."""
    parts = plan_parts(PartsRequest("quayside-blues", ("horn", "tuba"), level=2))
    assert parts.refused == ()
    assert any(move.beyond for part in parts.parts for move in part.moves)
    _check_together(parts, 2)


def test_readers_are_named_once_and_must_be_known() -> None:
    parts = plan_parts(PartsRequest("quayside-blues", ("Bb", "B flat", "trumpet")))
    assert [part.edition.id for part in parts.parts] == ["b-flat", "trumpet"]
    with pytest.raises(UnknownName, match="Did you mean 'flute'"):
        plan_parts(PartsRequest("quayside-blues", ("flut",)))
    with pytest.raises(InputError, match="Name each with --for"):
        plan_parts(PartsRequest("quayside-blues", ()))


def test_the_same_request_gives_the_same_parts() -> None:
    request = PartsRequest("quayside-blues", GROUP, level=2, seed=3)
    assert plan_parts(request) == plan_parts(request)


def _line(*pitches: str) -> Sheet:
    """Half a bar a note; '-' is a rest."""
    form = unroll(read_chart("key: C\n" + "| C6 | % | % | % |\n" * ((len(pitches) + 7) // 8)))
    half = Fraction(2)
    notes = tuple(Note(n * half, half, Pitch.parse(p)) for n, p in enumerate(pitches) if p != "-")
    promises = (
        Within(Fraction(0), form.length, Pitch.parse("C3"), Pitch.parse("C6")),
        Leaps(Fraction(0), form.length, 9),
    )
    return Sheet(
        recipe=Recipe("x", "free", 1, "C", "flute", 1),
        title="By hand",
        instruction="",
        key=Key.parse("C"),
        instrument=instrument("flute"),
        bars=analyse(form).bars,
        line=Line(notes, form.length),
        promises=promises,
        tempo_bpm=80,
    )


def test_octaves_are_folded_at_rests_only_and_told() -> None:
    sheet = _line("C5", "E5", "G5", "-", "G4", "E4", "C4", "-")
    moved, move = moved_for(sheet, instrument("trumpet"), level(1))
    reach = instrument("trumpet").concert_range("beginner")
    assert all(note.pitch in reach for note in moved.line.notes)
    assert _sounding(moved) == _sounding(sheet)
    steps = [
        n.pitch.midi - o.pitch.midi for n, o in zip(moved.line.notes, sheet.line.notes, strict=True)
    ]
    assert len(set(steps[:3])) == len(set(steps[3:])) == 1
    assert move.folds
    assert {(fold.first_bar, fold.last_bar) for fold in move.folds} <= {(1, 2), (3, 4)}
    assert broken(moved) == ()


def test_what_a_fold_breaks_is_given_up_and_told() -> None:
    sheet = _line("C5", "D5", "-", "C5", "B4", "A4", "G4", "F4")
    narrow = instrument("trumpet")
    moved, move = moved_for(sheet, narrow, level(1))
    if move.folds:
        assert broken(moved) == ()
    low = _line("E5", "F5", "-", "A3", "-", "E5", "F5", "-")
    moved, move = moved_for(low, instrument("flute"), level(1))
    assert move.folds == (Fold(2, 2, 1),)
    assert broken(moved) == ()


def test_a_wide_phrase_without_a_rest_is_refused() -> None:
    sheet = _line("C4", "G4", "E5", "C6", "G5", "E5", "C5", "G4")
    with pytest.raises(PartRefused, match=r"bars 1 to 4 span 24 semitones without a rest"):
        moved_for(sheet, instrument("tuba"), level(1))


def test_a_phrase_that_lies_between_octaves_is_refused() -> None:
    sheet = _line("A4", "C5", "E5", "A5", "E5", "C5", "A4", "A4")
    table = instruments_from_toml('[instrument.fife]\nclef="treble"\nprofessional="D5 E6"\n')
    with pytest.raises(PartRefused, match=r"bars 1 to 4 have no rest .* in no octave"):
        moved_for(sheet, instrument("fife", table), level(1))


def test_awkward_notes_are_told() -> None:
    sheet = _line("B4", "E4", "-", "-", "-", "-", "-", "-")
    _, move = moved_for(sheet, instrument("trumpet"), level(1))
    assert move.awkward == ("bar 1, beat 1: C#5 as read",) or move.awkward == ()
    _, low = moved_for(
        _line("B3", "E4", "-", "-", "-", "-", "-", "-"), instrument("trumpet"), level(1)
    )
    assert low.awkward == ("bar 1, beat 1: C#4 as read",)


def test_the_folder_holds_a_part_for_each_and_a_proof_list(tmp_path: Path) -> None:
    request = PartsRequest(
        "quayside-blues", ("flute", "tuba", "horn"), families=("root-up",), level=1
    )
    document = write_parts(plan_parts(request), tmp_path / "parts")
    files = {path.name for path in (tmp_path / "parts").iterdir()}
    assert files == {MARKER, PROOF, *(part["file"] for part in document["parts"])}
    assert json.loads((tmp_path / "parts" / MARKER).read_text("utf-8")) == document
    proof = (tmp_path / "parts" / PROOF).read_text("utf-8")
    assert "than composed" in proof
    assert all(one["name"] in proof and one["reason"] in proof for one in document["refused"])
    for part in document["parts"]:
        assert (tmp_path / "parts" / part["file"]).read_bytes().startswith(b"%PDF")


def test_where_nobody_can_have_a_part_nothing_is_written(tmp_path: Path) -> None:
    parts = plan_parts(PartsRequest("quayside-blues", ("flute",), families=("root-up",)))
    none = replace(parts, parts=(), refused=())
    with pytest.raises(Refusal):
        write_parts(none, tmp_path / "parts")
    assert not list(tmp_path.iterdir())
