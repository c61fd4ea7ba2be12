"""The page on listening can't lie: its keys are the document's keys and its snippet runs."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
import soundfile

from changewright.ear import hear, measure, solo
from changewright.ear.document import FORMAT, hearing_document
from changewright.ear.hearing import Fault
from changewright.ear.judge import judge
from changewright.reading.analyse import analyse
from tests.unit.ear.exercises import blues, clock_of, exact_take, recorded, root_up, slots

PAGE = (Path(__file__).parents[3] / "docs" / "listening.md").read_text(encoding="utf-8")


def test_every_key_of_the_document_is_on_the_page() -> None:
    sheet = root_up()
    played = slots(sheet)
    played[9] = replace(played[9], midi=played[9].midi + 1)
    document = hearing_document(judge(sheet, exact_take(played), clock_of(sheet)))
    assert document["format"] == FORMAT
    assert FORMAT in PAGE
    finding = document["bars"][2]["missed"][0]
    groups = (
        document,
        document["placement"],
        document["timing"],
        document["mistakes"][0],
        document["bars"][0],
        document["remarks"],
        document["remarks"]["bars"][0],
        finding,
        finding["heard"],
        document["counts"]["note"],
    )
    for key in {key for group in groups for key in group}:
        assert f"`{key}`" in PAGE, key


def test_every_key_of_a_solo_is_on_the_page() -> None:
    sheet = root_up()
    studied = solo.study_solo(exact_take(slots(sheet)), analyse(blues()), clock_of(sheet))
    document = solo.solo_document(studied)
    assert document["format"] == solo.FORMAT
    for key in {*document, *document["measures"][0]}:
        assert f"`{key}`" in PAGE, key


def test_every_fault_is_named_on_the_page() -> None:
    flowing = " ".join(PAGE.split())
    for fault in Fault:
        assert f"*{fault.value}*" in flowing, fault


def test_the_snippet_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = root_up()
    sound = recorded(slots(sheet))
    for name in ("take.wav", "play-along.wav"):
        soundfile.write(tmp_path / name, sound.samples, sound.rate)
    monkeypatch.chdir(tmp_path)
    snippet = re.findall(r"```python\n(.*?)```", PAGE, re.S)[0]
    exec(snippet, {"sheet": sheet, "clock": clock_of(sheet)})
    assert "machine's ear" in capsys.readouterr().out


def test_names_on_the_page_exist() -> None:
    assert hear.hear
    assert solo.study_solo
    assert measure.Measure
