"""What goes wrong with the studio itself: it is told on the page, and can be tried again."""

import logging
from concurrent.futures import Future
from dataclasses import replace
from secrets import token_hex
from typing import Any

import pytest
from starlette.testclient import TestClient

from changewright.errors import EngineError
from changewright.jobs.turns import Standing, Turns
from changewright.store.records import Heard, Take
from changewright.studio import filing, making, part, takes
from changewright.studio.app import make_app
from changewright.studio.hands import at_once
from tests.unit.studio.manners import LESSON, SAME, Made, app_over
from tests.unit.studio.test_stand import midi_take


def breaks(*_: object, **__: object) -> Any:
    raise RuntimeError("a wheel came off")


@pytest.fixture
def failed(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> str:
    """The address of a lesson in whose making the program itself failed."""
    with monkeypatch.context() as broken:
        broken.setattr(making, "_write", breaks)
        at: str = client.post("/lessons", data=LESSON, headers=SAME).headers["location"]
    return at


def test_a_lesson_that_broke_says_so_and_is_logged(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(making, "_write", breaks)
    with caplog.at_level(logging.ERROR):
        at = client.post("/lessons", data=LESSON, headers=SAME).headers["location"]
    assert "a wheel came off" in caplog.text
    assert client.get(f"{at}/state").json()["state"] == "failed"
    answer = client.get(at)
    assert answer.status_code == 422
    assert "something went wrong in the studio itself" in answer.text
    assert "Try again" in answer.text
    assert "a wheel came off" not in answer.text, "that is for whoever mends the program"


def test_it_can_be_tried_again(client: TestClient, failed: str) -> None:
    assert failed in client.get("/").text, "the Desk still knows of it"
    answer = client.post(f"{failed}/again", headers=SAME)
    assert answer.headers["location"] == failed
    assert client.get(f"{failed}/state").json()["state"] == "made"
    assert "Put it on the Stand" in client.get(failed).text
    assert client.post(f"{failed}/again", headers=SAME).status_code == 404, "it did not fail"


def test_another_one_like_it_comes_from_a_lesson_that_failed(
    client: TestClient, failed: str
) -> None:
    answer = client.post(f"{failed}/change", data={"way": "another"}, headers=SAME)
    assert "seed 8" in client.get(answer.headers["location"]).text


def test_it_can_be_forgotten(client: TestClient, failed: str) -> None:
    assert client.post(f"{failed}/forget", headers=SAME).headers["location"] == "/"
    assert client.get(failed).status_code == 404
    assert failed not in client.get("/").text


def test_a_lesson_that_is_there_is_not_forgotten(with_lesson: Made) -> None:
    assert with_lesson.client.post(f"{with_lesson.at}/forget", headers=SAME).status_code == 404
    assert with_lesson.lesson.is_dir()


def test_a_studio_that_starts_again_does_not_fail_again(
    client: TestClient, failed: str, tmp_path: Any
) -> None:
    with TestClient(app_over(tmp_path), base_url="http://127.0.0.1") as again:
        assert again.get(failed).status_code == 422
        assert again.get(f"{failed}/state").json()["state"] == "failed"


def test_a_take_that_nobody_could_listen_to_is_kept_and_heard_later(
    fresh: Made, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    client, at, _ = fresh
    client.post(f"{at}/consent", headers=SAME)
    key, sound = token_hex(16), midi_take(fresh, wrong_bar=5)
    with monkeypatch.context() as broken:
        broken.setattr(filing, "_hear", breaks)
        answer = client.post(f"{at}/1/takes?key={key}", content=sound, headers=SAME)
    assert "a wheel came off" in caplog.text
    assert answer.status_code == 200, "nothing more comes by itself"
    assert "data-unheard" in answer.text
    assert f"/takes/{key}/again" in answer.text
    assert "has not listened to it yet" in client.get(f"/takes/{key}").text
    assert len(fresh.store.all(Take)) == 1
    assert not fresh.store.all(Heard)
    again = client.post(f"{at}/1/takes/{key}/again", headers=SAME)
    assert 'class="missed" value="5"' in client.get(again.headers["location"]).text


def test_a_take_that_was_heard_is_not_heard_again(fresh: Made) -> None:
    client, at, _ = fresh
    client.post(f"{at}/consent", headers=SAME)
    key, sound = token_hex(16), midi_take(fresh, wrong_bar=5)
    client.post(f"{at}/1/takes?key={key}", content=sound, headers=SAME)
    client.post(f"{at}/1/takes/{key}/again", headers=SAME)
    assert len(fresh.store.all(Heard)) == 1
    assert f"/1/takes/{key}" in client.get(f"{at}/1/takes").text, "the list, as the Stand renews it"


class Counting(Turns):
    """Does its works at once and writes down their names."""

    def __init__(self) -> None:
        super().__init__()
        self.names: list[str] = []

    def ask(self, name: str, work: Any) -> Any:
        self.names.append(name)
        return super().ask(name, work)


def test_another_tempo_is_made_in_the_pool_and_once(with_lesson: Made) -> None:
    """No thread of the web server composes; what is there is not asked for again."""
    turns, studio = Counting(), with_lesson.studio
    parts = part.Parts(with_lesson.root, turns)
    first = parts.ask(studio.folder.made(with_lesson.at[9:]), 1, 201, "Db").result()
    again = parts.ask(studio.folder.made(with_lesson.at[9:]), 1, 201, "Db").result()
    assert turns.names == [f"{with_lesson.at[9:]}/1/201-Db"]
    assert first == again
    assert first.told == {"tempo": 201, "key": "Db"}
    assert parts.ask(studio.folder.made(with_lesson.at[9:]), 1, None, None).result().number == 1
    assert len(turns.names) == 1, "the exercise as it was set needs nobody"


def test_a_variant_that_breaks_is_told_to_whoever_waits(
    with_lesson: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    parts = part.Parts(with_lesson.root, at_once().mover)
    monkeypatch.setattr(part, "write_variant", breaks)
    lesson = with_lesson.studio.folder.made(with_lesson.at[9:])
    with pytest.raises(EngineError, match="try it again"):
        parts.ask(lesson, 1, 203, None).result()


class Busy(Turns):
    """An ear that has others to listen to first."""

    def ask(self, name: str, work: Any) -> Any:
        return Future()

    def standing(self, name: str) -> Standing:
        return Standing("waiting", 3)


def test_a_verdict_that_comes_later_comes_by_itself(
    fresh: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(takes, "VERDICT_S", 0.01)
    store, sound = fresh.store, midi_take(fresh, wrong_bar=5)
    fresh.client.post(f"{fresh.at}/consent", headers=SAME)
    app = make_app(fresh.root, store=store, hands=replace(at_once(), ear=Busy()))
    busy = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)
    key = token_hex(16)
    answer = busy.post(f"{fresh.at}/1/takes?key={key}", content=sound, headers=SAME)
    assert answer.status_code == 202
    page = busy.get(f"{fresh.at}/1/takes/{key}")
    assert page.status_code == 202
    assert "comes here by itself" in page.text
    assert "/static/later.js" in page.text
    assert "Look again" in busy.get(f"/takes/{key}").text
