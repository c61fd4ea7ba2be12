"""A printed code opens its exercise on the Stand, wherever the page was made."""

import shutil
from pathlib import Path
from urllib.parse import quote

import pytest
from starlette.testclient import TestClient

from changewright.page.code import exercise_link
from changewright.studio.door import Door, set_password
from changewright.studio.engraved import assignment_of
from changewright.usecases.book_file import read_book
from changewright.usecases.lesson import LessonRequest, plan_lesson
from tests.unit.studio.manners import SAME, TENOR, Made, app_over
from tests.unit.studio.test_guests import HOST, WORDS

MADE_ELSEWHERE = LessonRequest(
    chart="slow-leak-astern",
    instrument="trumpet",
    level=2,
    key="Eb",
    seed=41,
    families=("root-up",),
)


def label_of(request: LessonRequest) -> str:
    """What stands at the foot of a page made at the terminal."""
    return plan_lesson(request).sheets[0].recipe.label


def path_of(label: str) -> str:
    """The address in a code, without the studio's own."""
    return exercise_link("http://x.example", label).removeprefix("http://x.example")


def test_a_code_of_a_lesson_made_here_opens_its_stand(with_lesson: Made) -> None:
    client, at, _ = with_lesson
    label = assignment_of(with_lesson.lesson, 1).sheet.recipe.label
    assert client.get(path_of(label)).headers["location"] == f"{at}/1"


def test_a_page_of_the_terminal_is_composed_again_note_for_note(client: TestClient) -> None:
    at = path_of(label_of(MADE_ELSEWHERE))
    html = client.get(at).text
    for words in ("Slow Leak Astern", "trumpet", "level 2", "concert Eb", "seed 41"):
        assert words in html
    assert "Made before" not in client.get("/").text, "to look makes nothing"
    stand = client.post(at, data={"player": TENOR.id}, headers=SAME).headers["location"]
    assert stand.endswith("/1")
    assert client.get(stand).status_code == 200
    assert client.get(at).headers["location"] == stand, "and the code opens it from now on"
    studio = client.app._app.state.studio  # type: ignore[attr-defined]
    [made] = studio.folder.lessons(TENOR.id)
    sheet = assignment_of(studio.folder.lesson(made.id), 1).sheet
    assert sheet.line == plan_lesson(MADE_ELSEWHERE).sheets[0].line


def test_another_tempo_than_the_levels_own_is_found(client: TestClient) -> None:
    from dataclasses import replace

    at = path_of(label_of(replace(MADE_ELSEWHERE, tempo_bpm=93)))
    assert "quarter = 93" in client.get(at).text


def test_a_page_of_a_book_opens_too(client: TestClient, tmp_path: Path) -> None:
    """The label at the foot of a page is the recipe's, as everywhere; in an edition for one
    instrument the notes are those that it gets alone."""
    from changewright.jobs.kept import Kept
    from changewright.jobs.running import Workers
    from changewright.usecases.book import make_book
    from tests.unit.studio.test_books import BOOK

    file = tmp_path / "book.toml"
    text = BOOK.replace("levels = [2]", "levels = [2]\nseed = 6").replace("B-flat", "clarinet")
    file.write_text(text, encoding="utf-8")
    with Workers(1) as hands:
        book = make_book(read_book(file), Kept(tmp_path / "kept"), hands)
    label = book.pieces[0].told["clarinet"]["exercise"]["label"]
    html = client.get(path_of(label)).text
    assert "Slow Leak Astern" in html
    assert "seed 6" in html
    assert "clarinet" in html


def test_a_chart_of_ones_own_is_found_by_its_version(client: TestClient, tmp_path: Path) -> None:
    text = "title: Low Tide Drill\nkey: F\n\n| Gm7 | C7 | F6 | % |\n"
    chart = tmp_path / "elsewhere.txt"
    chart.write_text(text, encoding="utf-8")
    at = path_of(label_of(LessonRequest(str(chart), "clarinet", 2, families=("root-up",))))
    assert client.get(at).status_code == 404
    client.post("/shelf/save", data={"text": text}, headers=SAME)
    client.post("/shelf/save", data={"text": text.replace("F6", "Fmaj7")}, headers=SAME)
    stand = client.post(at, headers=SAME).headers["location"]
    html = client.get(stand).text
    assert "Low Tide Drill" in html
    assert "nobody" in html, "made for nobody, so it is played and not recorded"


@pytest.mark.parametrize(
    "label",
    [
        "root-up/L2/F/7-000000",
        "no-such-family/L2/F/7-3fa9c2",
        "root-up/L9/F/7-3fa9c2",
        "root-up/L2/H/7-3fa9c2",
        "x" * 300,
    ],
)
def test_a_label_of_nothing_says_what_may_be_done(client: TestClient, label: str) -> None:
    for answer in (
        client.get(f"/exercise/{quote(label)}"),
        client.post(f"/exercise/{quote(label)}", headers=SAME),
    ):
        assert answer.status_code == 404
        assert "chart is on the Shelf" in answer.text


def test_there_is_no_such_player(client: TestClient) -> None:
    at = path_of(label_of(MADE_ELSEWHERE))
    assert client.post(at, data={"player": "f" * 16}, headers=SAME).status_code == 404


def test_a_student_has_his_page_opened_for_himself(with_lesson: Made, tmp_path: Path) -> None:
    for part in ("lessons", "requests"):
        shutil.copytree(with_lesson.root / part, tmp_path / part)
    set_password(tmp_path, WORDS)
    door = Door(tmp_path)
    app = app_over(tmp_path, hosts=("stand.example",), door=door)
    guest = TestClient(app, base_url=HOST, follow_redirects=False)
    at = path_of(label_of(MADE_ELSEWHERE))
    assert guest.get(at).headers["location"] == "/login", "not without a link"
    assert guest.post(at, headers=SAME).status_code == 401
    guest.get(f"/join/{door.guests.invite(TENOR.id)}")
    html = guest.get(at).text
    assert "Put it on the Stand" in html
    assert "Who plays it" not in html
    stand = guest.post(at, data={"player": "f" * 16}, headers=SAME).headers["location"]
    assert "Tenor saxophone, Thursday" in guest.get(stand).text, "for whose link it is"


def test_a_student_waits_on_the_stand(
    with_lesson: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from changewright.studio import scanned

    monkeypatch.setattr(scanned, "ask_for", lambda studio, asked: _only_kept(studio, asked))
    set_password(tmp_path, WORDS)
    door = Door(tmp_path)
    app = app_over(tmp_path, hosts=("stand.example",), door=door)
    guest = TestClient(app, base_url=HOST, follow_redirects=False)
    guest.get(f"/join/{door.guests.invite(TENOR.id)}")
    at = path_of(label_of(MADE_ELSEWHERE))
    stand = guest.post(at, headers=SAME).headers["location"]
    answer = guest.get(stand)
    assert answer.status_code == 202
    assert "To the Desk" not in answer.text
    state = f"{stand.removesuffix('/1')}/state"
    assert state in answer.text
    assert guest.get(state).json()["state"] == "unknown"


def _only_kept(studio: object, asked: object) -> str:
    """A maker who is slow."""
    studio.folder.keep_request(asked)  # type: ignore[attr-defined]
    return str(asked.id)  # type: ignore[attr-defined]
