"""The Desk: a form in, a lesson out; and from it another one like it."""

import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from changewright.lesson.family import families
from tests.unit.studio.manners import LESSON, SAME, Made, app_over


def test_the_form_offers_what_the_rooms_have(client: TestClient) -> None:
    html = client.get("/").text
    assert 'value="quayside-blues@0"' in html
    assert ">clarinet<" in html
    for one in families():
        assert f'value="{one}"' in html


def test_a_lesson_is_shown_as_pages(with_lesson: Made) -> None:
    client, at, _ = with_lesson
    html = client.get(at).text
    assert "Tenor saxophone, Thursday" in html
    assert html.count("<svg") == 3, "twelve bars, four a system"
    assert 'aria-label="Bar 1, section A: G 7' in html, "at written pitch"
    assert "seed 7" in html


def test_the_lesson_can_be_printed(with_lesson: Made, tmp_path: Any) -> None:
    client, at, _ = with_lesson
    answer = client.get(f"{at}/lesson.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert 'filename="quayside-blues.pdf"' in answer.headers["content-disposition"]
    path = tmp_path / "lesson.pdf"
    path.write_bytes(answer.content)
    assert "Quayside Blues" in PdfReader(path).pages[0].extract_text()


def test_the_same_asked_again_is_the_same_lesson(with_lesson: Made) -> None:
    client, at, _ = with_lesson
    assert client.post("/lessons", data=LESSON, headers=SAME).headers["location"] == at


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"way": "another"}, "level 1, First changes · concert F · seed 8"),
        ({"way": "harder"}, "level 2, Clear chords · concert F · seed 7"),
        ({"way": "key", "key": "Eb"}, "level 1, First changes · concert Eb · seed 7"),
    ],
)
def test_another_lesson_comes_from_this_one(
    with_lesson: Made, told: dict[str, str], words: str
) -> None:
    client, at, _ = with_lesson
    answer = client.post(f"{at}/change", data=told, headers=SAME)
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"] != at
    html = client.get(answer.headers["location"]).text
    assert words in html
    assert "Chord tones from the root up" in html, "the same family"


def test_below_the_first_level_there_is_none(with_lesson: Made) -> None:
    client, at, _ = with_lesson
    assert ">Easier<" not in client.get(at).text
    answer = client.post(f"{at}/change", data={"way": "easier"}, headers=SAME)
    assert answer.status_code == 422
    assert "unknown level" in answer.text


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("chart", "../../etc/passwd@0"),
        ("chart", "/etc/passwd@0"),
        ("chart", "quayside-blues@9"),
        ("chart", "no-such-chart@0"),
        ("chart", ""),
        ("instrument", "kazoo"),
        ("level", "99"),
        ("level", "-1"),
        ("level", "\u0663\u0663\u0663\u0663"),
        ("key", "H"),
        ("key", "F" * 5000),
        ("seed", "1e9"),
        ("seed", "9" * 400),
        ("family", "no-such-family"),
    ],
)
def test_what_can_not_be_made_is_told(client: TestClient, field: str, value: str) -> None:
    answer = client.post("/lessons", data={**LESSON, field: value}, headers=SAME)
    assert answer.status_code in (404, 422)
    assert 'class="fault"' in answer.text
    assert "Traceback" not in answer.text
    assert "Made before" not in client.get("/").text


def test_a_chart_of_ones_own_makes_a_lesson_of_its_version(client: TestClient) -> None:
    text = "title: Low Tide Drill\nkey: F\n\n| Gm7 | C7 | F6 | % |\n"
    client.post("/shelf/save", data={"text": text}, headers=SAME)
    answer = client.post("/lessons", data={**LESSON, "chart": "low-tide-drill@1"}, headers=SAME)
    assert answer.status_code == 303, answer.text
    assert "Low Tide Drill" in client.get(answer.headers["location"]).text
    assert "Low Tide Drill" in client.get("/").text


@pytest.mark.parametrize(("bars", "systems"), [("1", 12), ("2", 6), ("4", 3), ("900", 3), ("x", 3)])
def test_a_narrow_screen_gets_fewer_bars_a_line(with_lesson: Made, bars: str, systems: int) -> None:
    client, at, _ = with_lesson
    html = client.get(f"{at}/1/systems?bars={bars}").text
    assert html.count("<svg") == systems
    assert re.findall(r'data-bar="(\d+)"', html) == [str(n) for n in range(1, 13)]


def test_a_phrase_is_put_in_the_place_of_a_bar(client: TestClient) -> None:
    wanted = {**LESSON, "chart": "wet-stone-steps@0"}
    at = client.post("/lessons", data=wanted, headers=SAME).headers["location"]
    offered = re.findall(r'<option value="(3:[a-z0-9-]+)"', client.get(f"{at}/1/phrases").text)
    assert offered
    to, form = f"{at}/1/phrases", {"phrase": offered[0]}
    other = client.post(to, data=form, headers=SAME).headers["location"]
    assert other != at
    before, after = (client.get(f"{one}/1/systems").text for one in (at, other))
    assert before != after
    assert "from bar 3" in client.get(f"{other}/1/phrases").text
    for wrong in ("", "3", "3:no-such-phrase", "99:x", "-1:x"):
        answer = client.post(to, data={"phrase": wrong}, headers=SAME, follow_redirects=True)
        assert answer.status_code == 422, wrong
        assert 'class="fault"' in answer.text


def test_what_was_left_half_made_is_gone_before_the_first_request(tmp_path: Path) -> None:
    """Later it would take away what that request is just making."""
    left = tmp_path / "lessons" / ".00ff-making-x"
    left.mkdir(parents=True)
    with TestClient(app_over(tmp_path), base_url="http://127.0.0.1"):
        assert not left.exists()
