"""``changewright phrases`` at the terminal."""

import json

import pytest
from typer.testing import CliRunner

from changewright.cli.main import app

SOLO = (
    "title: Solo\nkey: C\n| Dm7 | G7 | Cmaj7 | Cmaj7 | Fmaj7 | Fmaj7 | Dm7 | G7 | Cmaj7 |\n"
    "melody | D4 F4 A4 C5 | B4 A4 Ab4 F#4 | G4:2 -:2 | | | | F4 A4 C5:2 | B4 A4 G4 F4 | E4:4 |\n"
)


def printed(*arguments):
    done = CliRunner().invoke(app, ["phrases", *map(str, arguments)])
    assert done.exit_code == 0, done.output
    return done.output


def test_what_is_taken_is_listed_and_found(tmp_path):
    solo, own = tmp_path / "Solo One.txt", tmp_path / "own"
    solo.write_text(SOLO, "utf-8")
    taken = json.loads(printed("take", solo, "-o", own, "--json"))["taken"]
    assert [t["file"] for t in taken] == [
        "solo-one-bar-1-ii-v-i-phrase.txt",
        "solo-one-bar-7-ii-v-i-phrase.txt",
    ]
    listed = json.loads(printed("list", "--phrases", own, "--json"))
    assert {t["file"].removesuffix(".txt") for t in taken} <= {one["name"] for one in listed}
    chart = tmp_path / "chart.txt"
    chart.write_text("title: Chart\nkey: Eb\n| Fm7 | Bb7 | Ebmaj7 |\n", "utf-8")
    found = json.loads(printed("find", chart, "--phrases", own, "--json"))
    places = {one["name"]: one["places"] for one in found}
    assert places["solo-one-bar-7-ii-v-i-phrase"] == [{"bar": 1, "adapted": False}]


def test_nothing_is_overwritten(tmp_path):
    solo, own = tmp_path / "solo.txt", tmp_path / "own"
    solo.write_text(SOLO, "utf-8")
    for _ in range(2):
        printed("take", solo, "-o", own)
    assert len(list(own.iterdir())) == 4


def test_the_tables_are_short_and_say_where(tmp_path):
    assert "static dominant" in printed("list")
    assert "bars" in printed("find", "quayside-blues", "--level", "4")
    solo = tmp_path / "solo.txt"
    solo.write_text(SOLO, "utf-8")
    told = printed("take", solo, "-o", tmp_path / "own", "--figures")
    assert "bar 2, beat 3: enclosure" in told


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("take", "none.txt", "-o", "x"), "no such file"),
        (("take", "none.mid", "-o", "x"), "has no changes"),
        (("take", "none.mid", "-o", "x", "--changes", "quayside-blues"), "no such file"),
        (("list", "--phrases", "none"), "no such folder"),
        (("take", "quayside-blues", "-o", "x"), "no notes"),
    ],
)
def test_bad_input_says_what_to_do(arguments, told, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(app, ["phrases", *arguments])
    assert told in str(done.exception)
    assert list(tmp_path.iterdir()) == []
