"""A teacher's fortnight at the terminal: a roster, a take, a path, a plan, a backup, goodbye."""

import json
import os
import shlex
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from changewright.cli.main import main
from changewright.usecases.demo import Demo

TENOR = "Tenor saxophone, Thursday"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@dataclass(frozen=True)
class Said:
    """What a verb left: standard output and standard error."""

    stdout: str
    stderr: str


def run(home: Path, *args: str, status: int = 0) -> Said:
    """Run a verb in this process, as the console script does."""
    out, err, before = StringIO(), StringIO(), sys.argv
    sys.argv = ["changewright", *args]
    os.environ["CHANGEWRIGHT_HOME"] = str(home)
    try:
        with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as left:
            main()
    finally:
        sys.argv = before
        del os.environ["CHANGEWRIGHT_HOME"]
    assert (left.value.code or 0) == status, out.getvalue() + err.getvalue()
    return Said(out.getvalue(), err.getvalue())


def said(home: Path, *args: str) -> Any:
    return json.loads(run(home, *args, "--json").stdout)


def add(home: Path, name: str = TENOR, instrument: str = "tenor saxophone", *more: str) -> None:
    run(home, "roster", "add", name, instrument, *more)


def test_from_a_take_to_the_next_plan(home: Path, demo: Demo, tmp_path: Path) -> None:
    add(home)
    first = said(home, "plan", "lesson", TENOR, "--on", "2026-03-05")
    assert first["minutes"] == 15
    assert first["segments"][-1]["title"] == "Improvise"

    lesson, take = str(demo.folder / "lesson"), str(demo.folder / "take.wav")
    heard = said(home, "roster", "take", TENOR, take, "--lesson", lesson, "--exercise", "1",
                 "--my-ears", "I lost bar 9", "--on", "2026-03-05")  # fmt: skip
    assert heard["hearing"]["judged"]

    path = said(home, "roster", "path", TENOR, "--on", "2026-03-05")
    [whole] = [s for s in path["path"] if s["progression"] == "blues"]
    assert (whole["family"], whole["key"], whole["level"]) == ("root-up", "F", 1)
    assert whole["standing"] == "shaky"
    assert whole["takes"] == [heard["take"]]
    met = heard["hearing"]["counts"]["note"]
    assert any(f"{met['met']} of {met['met'] + met['missed']} notes" in why
               for why in whole["because"])  # fmt: skip

    run(home, "roster", "mark", TENOR, "root-up", "blues", "solid", "--key", "F")
    marked = said(home, "roster", "path", TENOR, "--on", "2026-03-05")["path"]
    assert [s["standing"] for s in marked if s["key"] == "F"] == ["solid"]

    page = tmp_path / "week.pdf"
    week = said(home, "plan", "week", TENOR, "--on", "2026-03-06", "--output", str(page))
    assert [day["minutes"] for day in week["days"]] == [20] * 5
    assert page.read_bytes().startswith(b"%PDF")
    again = said(home, "plan", "missed", TENOR, "2026-03-07", "--on", "2026-03-08")
    assert [d["status"] for d in again["days"]] == ["done", "missed"] + ["planned"] * 3

    following = said(home, "plan", "lesson", TENOR, "--on", "2026-03-12", "--minutes", "30")
    assert following["title"] == "Next lesson"
    assert "Ask the student first." in following["segments"][1]["what"]


def test_everything_comes_back_from_a_backup(home: Path, demo: Demo, tmp_path: Path) -> None:
    add(home)
    lesson, take = str(demo.folder / "lesson"), str(demo.folder / "take.wav")
    run(home, "roster", "take", TENOR, take, "--lesson", lesson, "--exercise", "1",
        "--on", "2026-03-05")  # fmt: skip
    path = said(home, "roster", "path", TENOR, "--on", "2026-04-01")
    counts = said(home, "backup", str(tmp_path / "roster.zip"))
    assert counts["recordings"] == 1
    other = tmp_path / "other"
    assert said(other, "restore", str(tmp_path / "roster.zip")) == counts
    assert said(other, "roster", "path", TENOR, "--on", "2026-04-01") == path
    run(other, "restore", str(tmp_path / "roster.zip"), status=2)


def test_removing_is_taken_back_and_erasing_is_not(home: Path, tmp_path: Path) -> None:
    add(home)
    run(home, "roster", "note", TENOR, "long tones")
    before = said(home, "roster", "list")
    run(home, "roster", "remove", TENOR)
    assert said(home, "roster", "list") == []
    run(home, "roster", "undo")
    assert said(home, "roster", "list") == before
    run(home, "roster", "export", TENOR, "--output", str(tmp_path / "me.zip"))
    assert (tmp_path / "me.zip").read_bytes().startswith(b"PK")
    assert "nothing brings it back" in run(home, "roster", "erase", TENOR, status=2).stderr
    run(home, "roster", "erase", TENOR, "--yes")
    assert said(home, "roster", "list") == []
    assert "nothing to take back" in run(home, "roster", "undo", status=2).stderr


def test_a_childs_take_waits_for_consent(home: Path, demo: Demo) -> None:
    add(home, TENOR, "tenor saxophone", "--age", "13 to 15")
    lesson, take = str(demo.folder / "lesson"), str(demo.folder / "take.wav")
    words = ("roster", "take", TENOR, take, "--lesson", lesson, "--exercise", "1")
    assert "guardian" in run(home, *words, status=2).stderr
    run(home, "roster", "consent", TENOR, "--by", "the mother", "--on", "2026-03-01")
    run(home, *words)
    run(home, "roster", "consent", TENOR, "--by", "the mother", "--withdraw")
    assert "guardian" in run(home, *words, status=2).stderr


ROSTER = """Nickname;Instrument;Level;Age band;Days;Lesson;Minutes
Clarinet, Thursday;clarinet;2;adult;Mon Tue Fri;Thursday;25
Kazoo, Thursday;kazoo;1;adult;Mon;Thursday;20
Trombone, Thursday;trombone;9;adult;Mon;Thursday;20
Flute, Thursday;flute;1;13 to 15;Monday, Friday;Thu;20
clarinet,  thursday;flute;1;adult;Mon;Thursday;20
Guitar, Thursday;guitar;1;adult;Someday;Thursday;20
;guitar;1;adult;Mon;Thursday;20
Cornet, Thursday;trumpet;1;adult;Mon;Thursday;a lot
"""


def test_a_roster_in_csv_tells_bad_rows_by_line(home: Path, tmp_path: Path) -> None:
    table = tmp_path / "roster.csv"
    table.write_text(ROSTER, encoding="utf-8-sig")
    done = run(home, "roster", "import", str(table), "--json", status=2)
    came = json.loads(done.stdout)
    assert came["added"] == []
    faults = {row["line"]: row["fault"] for row in came["bad"]}
    assert sorted(faults) == [3, 4, 6, 7, 8, 9]
    assert "'kazoo'" in faults[3]
    assert "taken" in faults[6]
    assert "'Someday'" in faults[7]
    assert "nickname" in faults[8]
    assert "'a lot'" in faults[9]
    assert said(home, "roster", "list") == []

    run(home, "roster", "import", str(table), "--keep-good", status=2)
    players = said(home, "roster", "list")
    assert [p["nickname"] for p in players] == ["Clarinet, Thursday", "Flute, Thursday"]
    assert players[1]["days"] == [0, 4]
    run(home, "roster", "undo")  # the import is one edit
    assert said(home, "roster", "list") == []


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("name,instrument\nA,flute\n", "unknown columns ['name']"),
        ("nickname\nA\n", "missing columns ['instrument']"),
        ("", "missing columns"),
        ('nickname,instrument\n"A,flute\n', "line 2"),
        ("nickname,instrument\nA,flute,3\n", "more cells than columns"),
    ],
)
def test_a_file_that_is_no_roster_is_told(home: Path, tmp_path: Path, text: str, told: str) -> None:
    table = tmp_path / "roster.csv"
    table.write_text(text)
    done = run(home, "roster", "import", str(table), status=2)
    assert told in done.stdout + done.stderr


def test_a_class_gets_pages_for_everyone(home: Path, tmp_path: Path) -> None:
    for name, instrument, level in (
        (TENOR, "tenor saxophone", "1"),
        ("Flute, Thursday", "flute", "3"),
        ("Trombone, Thursday", "trombone", "2"),
    ):
        add(home, name, instrument, "--level", level)
    plan = said(home, "plan", "class", "quayside-blues", "--folder", str(tmp_path / "pages"),
                "--output", str(tmp_path / "class.pdf"))  # fmt: skip
    assert [p["level"] for p in plan["parts"]] == [3, 1, 2]
    assert {p["strand"] for p in plan["parts"]} == {"third", "seventh"}
    assert len(list((tmp_path / "pages").glob("*.pdf"))) == 3


BAD = {
    "nobody of that name": (("roster", "path", "Oboe"), "'Oboe'"),
    "a day that is none": (("plan", "week", TENOR, "--on", "soon"), "'soon'"),
    "too many minutes": (("plan", "week", TENOR, "--minutes", "900"), "900"),
    "no week yet": (("plan", "missed", TENOR, "2026-03-07"), "no week"),
    "an unknown standing": (("roster", "mark", TENOR, "root-up", "blues", "great"), "shaky"),
    "an unknown progression": (("roster", "mark", TENOR, "root-up", "polka", "solid"), "blues"),
    "an unknown family": (("roster", "mark", TENOR, "wiggles", "blues", "solid"), "root-up"),
    "an unknown age": (("roster", "add", "X", "flute", "--age", "old"), "adult"),
    "an unknown instrument": (("roster", "add", "X", "kazoo"), "kazoo"),
    "a nickname twice": (("roster", "add", TENOR, "flute"), "already"),
    "no backup": (("restore", "nothing.zip"), "nothing.zip"),
    "no lesson": (("roster", "give", TENOR, "nowhere"), "lesson.json"),
    "no CSV": (("roster", "import", "nothing.csv"), "nothing.csv"),
    "a database of another make": (("roster", "list", "--database", "mysql://a@b/c"), "mysql"),
    "an unknown paper": (
        ("plan", "week", TENOR, "--output", "x.pdf", "--paper", "a0"),
        "letter",
    ),
}


def test_what_cannot_be_used_is_told_in_a_sentence(home: Path) -> None:
    add(home)
    before = said(home, "roster", "list")
    for name, (words, told) in BAD.items():
        done = run(home, *words, status=2)
        assert told in done.stderr, name
    assert said(home, "roster", "list") == before


def test_the_page_about_the_roster_is_true(
    home: Path, demo: Demo, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every command of docs/roster.md runs, in its order, and leaves what it says."""
    page = Path(__file__).parents[2] / "docs" / "roster.md"
    lines = [line for line in page.read_text("utf-8").splitlines() if line.startswith("change")]
    assert len(lines) > 12
    monkeypatch.chdir(home.parent)
    (home.parent / "quayside").symlink_to(demo.folder)
    (home.parent / "roster.csv").write_text("nickname,instrument\nGuitar,guitar\n")
    for line in lines:
        words = shlex.split(line)[1:]
        if words[0] != "demo":  # made already, for all walks
            run(home, *words)
    for made in ("first-lesson.pdf", "week.pdf", "class.pdf"):
        assert (home.parent / made).read_bytes().startswith(b"%PDF")
    assert len(said(home, "roster", "list")) == 4
