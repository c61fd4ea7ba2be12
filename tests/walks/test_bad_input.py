"""Bad input at the terminal: one clear sentence, exit status 2, no traceback, nothing written."""

import os
import subprocess
import sys
from pathlib import Path

import pytest


def _run(*args: str, cwd: Path, text: str = "") -> subprocess.CompletedProcess[str]:
    code = "from changewright.cli.main import main; main()"
    return subprocess.run(
        [sys.executable, "-c", code, *args],
        cwd=cwd,
        input=text,
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "COLUMNS": "200"},
    )


BROKEN = "title: Broken\nkey: F\n\nsection A\n| F7 | Bb7 | Qx7 | F7 |\n"

CASES = {
    "no such chart": (("read", "nowhere.txt"), ("nowhere.txt", "shelf")),
    "a chord that can't be read": (
        ("read", "broken.txt"),
        ("broken.txt", "line 5", "bar 3", "Qx7"),
    ),
    "a folder for a chart": (("read", "."), (".",)),
    "an unknown key": (("read", "quayside-blues", "--key", "H"), ("'H'",)),
    "an unknown instrument": (
        ("lesson", "quayside-blues", "--for", "kazoo"),
        ("'kazoo'", "tenor saxophone", "trumpet"),
    ),
    "an unknown level": (
        ("lesson", "quayside-blues", "--for", "flute", "--level", "9"),
        ("'9'", "1 (", "8 ("),
    ),
    "an unknown family": (
        ("lesson", "quayside-blues", "--for", "flute", "--family", "wiggles"),
        ("'wiggles'", "root-up", "guide-tones"),
    ),
    "an unknown paper": (
        ("lesson", "quayside-blues", "--for", "flute", "--paper", "a0"),
        ("'a0'", "letter"),
    ),
    "a tempo nobody plays": (
        ("lesson", "quayside-blues", "--for", "flute", "--tempo", "4000"),
        ("4000",),
    ),
    "a broken chart for a lesson": (
        ("lesson", "broken.txt", "--for", "flute"),
        ("line 5", "bar 3"),
    ),
    "a folder that is no lesson": (
        ("hear", "broken.txt", "--lesson", ".", "--exercise", "1"),
        ("lesson.json",),
    ),
    "a take that isn't there": (
        ("hear", "gone.wav", "--lesson", "given", "--exercise", "1"),
        ("gone.wav",),
    ),
    "a take that is no sound": (
        ("hear", "broken.txt", "--lesson", "given", "--exercise", "1"),
        ("broken.txt",),
    ),
    "an exercise that isn't there": (
        ("hear", "gone.wav", "--lesson", "given", "--exercise", "12"),
        ("12", "1 to 3"),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_bad_input_is_answered(name: str, tmp_path: Path, lesson_folder: Path) -> None:
    args, wanted = CASES[name]
    (tmp_path / "broken.txt").write_text(BROKEN)
    (tmp_path / "given").symlink_to(lesson_folder)
    before = sorted(tmp_path.iterdir())
    done = _run(*args, cwd=tmp_path)
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    for word in wanted:
        assert word in done.stderr
    assert sorted(tmp_path.iterdir()) == before


def test_an_existing_folder_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("x")
    done = _run("lesson", "quayside-blues", "--for", "flute", "-o", "mine", cwd=tmp_path)
    assert done.returncode == 2
    assert "--output" in done.stderr
    assert [p.name for p in tmp_path.rglob("*")] == ["mine", "letter.txt"]


def test_a_broken_symbol_in_a_list_keeps_the_others(tmp_path: Path) -> None:
    done = _run("symbols", cwd=tmp_path, text="F7\nQx7\nC\n")
    assert done.returncode == 2
    assert len(done.stdout.splitlines()) >= 3
    assert "Traceback" not in done.stderr
