"""From a take to a page, through the command line."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from changewright.cli.main import app
from changewright.errors import InputError
from changewright.usecases.demo import Demo
from changewright.usecases.hear import listen, listen_solo
from changewright.usecases.listening_page import check_page, exercise_page, solo_page


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


def test_a_take_that_is_not_judged_is_not_shown_as_heard(demo: Demo) -> None:
    heard = listen(demo.folder / "take.wav", demo.folder / "lesson", 1)
    unsure = replace(heard.hearing, judged=False, reason="More than one line is heard at a time.")
    page = exercise_page(replace(heard, hearing=unsure))
    assert page.headline == "More than one line is heard at a time."
    assert page.heard is None
    assert page.bars == page.said == ()


def test_an_open_solo_has_a_page_of_each_kind(demo: Demo, tmp_path: Path) -> None:
    assert _hear(demo, tmp_path / "solo.pdf", "--solo") == 0
    assert (tmp_path / "solo.pdf").read_bytes().startswith(b"%PDF")
    assert _hear(demo, tmp_path / "solo.html", "--solo", "--json") == 0
    text = (tmp_path / "solo.html").read_text("utf-8")
    assert text.index("your own ears") < text.index("By chance") < text.index("<audio")


def test_the_page_of_a_solo_shows_every_share_beside_chance_and_the_record(demo: Demo) -> None:
    heard = listen_solo(demo.folder / "take.wav", demo.folder / "lesson", 1)
    page = solo_page(heard)
    rows = {row.name: row for row in page.measures}
    strong = heard.hearing.measure("J1")
    assert strong is not None
    assert strong.chance is not None
    row = rows[strong.name]
    assert row.value == f"{100 * strong.value:.0f}"
    assert row.chance == f"{100 * strong.chance:.0f}"
    assert row.counted == str(strong.count)
    assert (row.record == "41 · 53 · 67") is heard.hearing.compared
    assert not any("total" in name.lower() for name in rows)
    assert page.exercise is None
    assert page.heard is not None
    assert len(page.heard.bars) % len(heard.sheet.bars) == 0
    assert len(page.questions) == 3


def test_where_no_comparison_is_fair_none_is_shown(demo: Demo) -> None:
    heard = listen_solo(demo.folder / "take.wav", demo.folder / "lesson", 1)
    unfair = replace(heard, hearing=replace(heard.hearing, compared=False, reason="Too few notes."))
    page = solo_page(unfair)
    assert page.headline == "Too few notes."
    assert page.said == () or [head for head, _ in page.said] == ["Pitch"]
    assert {row.record for row in page.measures} == {""}
    assert {row.word for row in page.measures} == {""}


@pytest.mark.parametrize("name", ["notes", "notes.docx", "notes.wav"])
def test_a_page_of_another_kind_is_refused_before_listening(name: str, demo: Demo) -> None:
    with pytest.raises(InputError, match=r"PDF or HTML"):
        check_page(Path(name))
    assert _hear(demo, Path("/nonexistent") / name) != 0
