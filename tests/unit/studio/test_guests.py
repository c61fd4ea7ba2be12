"""A student's link opens his own Stands and nothing else, until it is taken back or grows old."""

import re
import shutil
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from changewright.studio.door import Door, set_password
from changewright.studio.guests import GUEST, VALID_S, Guests
from tests.unit.studio.manners import LESSON, SAME, TENOR, Made, app_over

WORDS = "four boats in a row"
HOST = "https://stand.example"


@pytest.fixture
def teacher(with_lesson: Made, tmp_path: Path) -> TestClient:
    for part in ("lessons", "requests"):
        shutil.copytree(with_lesson.root / part, tmp_path / part)
    set_password(tmp_path, WORDS)
    app = app_over(tmp_path, hosts=("stand.example",), door=Door(tmp_path))
    one = TestClient(app, base_url=HOST, follow_redirects=False)
    one.post("/login", data={"password": WORDS}, headers=SAME)
    return one


def invited(teacher: TestClient) -> tuple[str, str]:
    """A lesson's address and the path of a new link to it."""
    at = teacher.post("/lessons", data=LESSON, headers=SAME).headers["location"]
    html = teacher.post(f"{at}/invite", headers=SAME).text
    found = re.search(r"https://stand\.example(/join/[\w?=-]+)<", html)
    assert found is not None
    return at, found[1]


def student(teacher: TestClient) -> TestClient:
    """Another browser before the same studio."""
    return TestClient(teacher.app, base_url=HOST, follow_redirects=False)


def test_a_link_opens_the_stand_and_nothing_else(teacher: TestClient) -> None:
    at, link = invited(teacher)
    guest = student(teacher)
    assert guest.get(f"{at}/1").status_code == 303, "not without the link"
    answer = guest.get(link)
    assert answer.headers["location"] == f"{at}/1"
    cookie = answer.headers["set-cookie"].lower()
    assert all(word in cookie for word in ("httponly", "samesite=lax", "secure"))
    html = guest.get(f"{at}/1").text
    assert 'aria-label="Rooms"' not in html
    assert f"{at}/1" in guest.get("/mine").text
    assert "Log out" not in html
    for path in ("/1/systems", "/1/stems/bass"):
        assert guest.get(at + path).status_code == 200
    assert guest.post(f"{at}/consent", headers=SAME).status_code == 204
    nobody = teacher.post("/lessons", data={**LESSON, "player": ""}, headers=SAME)
    closed = ["/", "/shelf", at, f"{at}/lesson.pdf", "/lessons/0123456789abcdef/1", "/week"]
    closed += [f"{nobody.headers['location']}/1", f"/players/{TENOR.id}", f"/takes/{'a' * 32}"]
    for path in closed:
        assert guest.get(path).headers.get("location") == "/login", path
    for path in (f"{at}/change", f"{at}/invite", "/lessons", "/shelf/save", "/undo", "/players"):
        assert guest.post(path, headers=SAME).status_code == 401, path
    assert guest.get(f"{at}/1/../../../shelf").headers.get("location") == "/login"


def test_a_link_that_was_taken_back_opens_nothing(teacher: TestClient) -> None:
    at, link = invited(teacher)
    guest = student(teacher)
    guest.get(link)
    assert guest.get(f"{at}/1").status_code == 200
    assert "Take back the link" in teacher.get(at).text
    teacher.post(f"/players/{TENOR.id}/revoke", headers=SAME)
    assert guest.get(f"{at}/1").status_code == 303
    assert guest.get(link).status_code == 404
    assert "Take back" not in teacher.get(at).text


def test_a_link_is_kept_as_a_hash_alone(tmp_path: Path) -> None:
    token = Guests(tmp_path).invite(TENOR.id)
    assert len(token) == 22, "128 bits in base 64"
    for path in tmp_path.rglob("*.json"):
        assert token not in path.read_text() + path.name


def test_a_link_grows_old(tmp_path: Path) -> None:
    now = [1e9]
    guests = Guests(tmp_path, now=lambda: now[0])
    token = guests.invite(TENOR.id)
    assert guests.player_of(token) == TENOR.id
    now[0] += VALID_S + 1
    assert guests.player_of(token) is None
    assert guests.count(TENOR.id) == 0


@pytest.mark.parametrize(
    "token", ["", "x", "..%2f..%2fpassword", "a" * 22, "a" * 9000, "\u00e9" * 22]
)
def test_a_guessed_link_opens_nothing(teacher: TestClient, token: str) -> None:
    at, _ = invited(teacher)
    guest = student(teacher)
    assert guest.get(f"/join/{token}").status_code == 404
    headers = {"cookie": f"{GUEST}={token}".encode()}
    answer = guest.get(f"{at}/1", headers=headers)  # type: ignore[arg-type]
    assert answer.status_code == 303


def test_where_only_this_machine_comes_in_there_are_no_links(with_lesson: Made) -> None:
    one, at, _ = with_lesson
    assert "A link for the student" not in one.get(at).text
    assert one.post(f"{at}/invite", headers=SAME).status_code == 422
    assert one.get("/join/" + "a" * 22).status_code == 404
