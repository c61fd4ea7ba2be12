"""The same exercise at another tempo, and in another key."""

from dataclasses import replace
from pathlib import Path

import pytest

from changewright.errors import InputError
from changewright.usecases.demo import DEMO
from changewright.usecases.lesson import plan_lesson
from changewright.usecases.lesson_folder import load_assignment, load_manifest, write_lesson
from changewright.usecases.levels import level_text
from changewright.usecases.variant import TEMPI, write_variant


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "lesson"
    write_lesson(plan_lesson(DEMO), folder, pages=False)
    return folder


def test_another_tempo_leaves_the_notes(lesson: Path, tmp_path: Path) -> None:
    """The second exercise, so that the right one is taken."""
    write_variant(lesson, 2, tmp_path / "fast", tempo_bpm=97, key=None)
    before, after = load_assignment(lesson, 2), load_assignment(tmp_path / "fast", 1)
    assert after.sheet.line == before.sheet.line
    assert after.sheet.promises == before.sheet.promises
    assert (after.sheet.tempo_bpm, after.clock.bpm) == (97, 97)
    assert after.sheet.recipe.label == before.sheet.recipe.label
    assert all(path.is_file() for path in after.backing)
    assert not (tmp_path / "fast" / "lesson.pdf").exists()


@pytest.mark.parametrize("asked", [None, 200])
def test_an_etude_stays_the_printed_one_at_any_tempo(asked: int | None, tmp_path: Path) -> None:
    """Its phrases are as long as a breath, and so as the tempo that it was composed for."""
    request = replace(DEMO, level=6, families=("etude",), tempo_bpm=asked)
    made = plan_lesson(request)
    write_lesson(made, tmp_path / "made", pages=False)
    lines, labels = {made.exercises[0].sheet.line}, {made.exercises[0].sheet.recipe.label}
    for bpm in (56, 280):
        write_variant(tmp_path / "made", 1, tmp_path / f"{bpm}", tempo_bpm=bpm, key=None)
        sheet = load_assignment(tmp_path / f"{bpm}", 1).sheet
        assert sheet.tempo_bpm == bpm
        lines.add(sheet.line)
        labels.add(sheet.recipe.label)
    assert len(lines) == len(labels) == 1


def test_a_tempo_that_was_asked_for_is_part_of_the_label() -> None:
    labels = {
        plan_lesson(replace(DEMO, tempo_bpm=bpm)).exercises[0].sheet.recipe.label
        for bpm in (None, 200)
    }
    assert len(labels) == 2


def test_another_key_moves_the_changes(lesson: Path, tmp_path: Path) -> None:
    write_variant(lesson, 1, tmp_path / "moved", tempo_bpm=None, key="Ab")
    before, after = load_assignment(lesson, 1).sheet, load_assignment(tmp_path / "moved", 1).sheet
    assert load_manifest(tmp_path / "moved")["key"] == "Ab"
    assert after.tempo_bpm == before.tempo_bpm
    roots = [
        [change.chord.root.pc for bar in sheet.bars for change in bar.changes]
        for sheet in (before, after)
    ]
    assert {(b - a) % 12 for a, b in zip(*roots, strict=True)} == {3}, "F to A flat"


def test_a_lesson_at_a_level_of_ones_own_can_be_made_again(tmp_path: Path) -> None:
    own = tmp_path / "thursday.toml"
    own.write_text(level_text(3).replace("widest_leap = 10", "widest_leap = 4"), "utf-8")
    request = replace(DEMO, level=1, families=("free-rhythm",), own_level=own)
    made = plan_lesson(request)
    assert made.sheets[0] != plan_lesson(replace(request, level=3, own_level=None)).sheets[0]
    write_lesson(made, tmp_path / "made", pages=False)
    own.unlink()
    assert load_manifest(tmp_path / "made")["level"] == 3
    write_variant(tmp_path / "made", 1, tmp_path / "slow", tempo_bpm=60, key=None)
    after = load_assignment(tmp_path / "slow", 1).sheet
    assert (after.line, after.recipe) == (made.sheets[0].line, made.sheets[0].recipe)


def test_a_lesson_with_phrases_of_ones_own_can_be_made_again(tmp_path: Path) -> None:
    """The manifest holds the phrases; the folder they came from may be gone."""
    own = tmp_path / "own"
    own.mkdir()
    text = "title: Mine\nkey: F\n| F7 |\nmelody | C5:1 A4:1/2 F4 A4:1 G4:1 |\n"
    (own / "mine.txt").write_text(text, encoding="utf-8")
    request = replace(DEMO, level=4, families=("planned-phrase",), phrases=own)
    made = plan_lesson(request)
    assert made.sheets[0].recipe.phrases
    label = plan_lesson(replace(request, phrases=None)).sheets[0].recipe.label
    assert made.sheets[0].recipe.label != label
    write_lesson(made, tmp_path / "lesson", pages=False)
    (own / "mine.txt").unlink()
    write_variant(tmp_path / "lesson", 1, tmp_path / "again", tempo_bpm=None, key=None)
    before, after = (load_assignment(tmp_path / name, 1).sheet for name in ("lesson", "again"))
    assert after.line == before.line
    assert after.recipe == before.recipe


@pytest.mark.parametrize("bpm", [TEMPI[0] - 1, TEMPI[1] + 1, 0])
def test_a_tempo_nobody_can_play_is_refused(lesson: Path, tmp_path: Path, bpm: int) -> None:
    with pytest.raises(InputError, match="Choose 30 to 320"):
        write_variant(lesson, 1, tmp_path / "none", tempo_bpm=bpm, key=None)
    assert not (tmp_path / "none").exists()


def test_a_key_that_is_none_is_refused(lesson: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="can't read the key"):
        write_variant(lesson, 1, tmp_path / "none", tempo_bpm=None, key="H")
