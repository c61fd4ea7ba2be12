"""From a take to a page, through the command line."""

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from changewright.cli.main import app
from changewright.errors import InputError
from changewright.usecases.demo import Demo
from changewright.usecases.hear import listen
from changewright.usecases.listening_page import check_page, exercise_page


def _hear(demo: Demo, page: Path, *more: str) -> int:
    take, lesson = str(demo.folder / "take.wav"), str(demo.folder / "lesson")
    arguments = ["hear", take, "--lesson", lesson, "--exercise", "1", "--page", str(page), *more]
    return CliRunner().invoke(app, arguments).exit_code


def test_hear_writes_a_page_of_each_kind(demo: Demo, tmp_path: Path) -> None:
    assert _hear(demo, tmp_path / "notes.pdf") == 0
    assert (tmp_path / "notes.pdf").read_bytes().startswith(b"%PDF")
    assert _hear(demo, tmp_path / "notes.html", "--json") == 0
    text = (tmp_path / "notes.html").read_text("utf-8")
    bars = len(demo.lesson.exercises[0].sheet.bars)
    assert len(re.findall("<audio", text)) == bars
    assert sorted(p.name for p in tmp_path.iterdir()) == ["notes.html", "notes.pdf"]


def test_the_page_says_what_the_hearing_says(demo: Demo) -> None:
    page = exercise_page(listen(demo.folder / "take.wav", demo.folder / "lesson", 1))
    told = {note.number: note.text for note in page.bars}
    assert "where" in told[3]
    assert "no note was heard" in told[6]
    assert "late" in told[9]
    heard = [n for n in page.heard.line.notes if page.heard.bar_at(n.onset).number == 6]
    asked = demo.lesson.exercises[0].sheet.line.notes
    sixth = [n for n in asked if page.heard.bar_at(n.onset).number == 6]
    assert len(heard) == len(sixth) - 1


@pytest.mark.parametrize("name", ["notes", "notes.docx", "notes.wav"])
def test_a_page_of_another_kind_is_refused_before_listening(name: str, demo: Demo) -> None:
    with pytest.raises(InputError, match=r"PDF or HTML"):
        check_page(Path(name))
    assert _hear(demo, Path("/nonexistent") / name) != 0
