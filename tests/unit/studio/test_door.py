"""A studio that others can reach asks for a password; one that they can't, doesn't."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from changewright.cli.main import app as commands
from changewright.errors import InputError
from changewright.studio.door import COOKIE, Door, Throttle, set_password
from changewright.studio.serve import Reach, checked, is_local, serve
from tests.unit.studio.manners import SAME, app_over

WORDS = "four boats in a row"


@pytest.fixture
def closed(tmp_path: Path) -> TestClient:
    set_password(tmp_path, WORDS)
    app = app_over(tmp_path, hosts=("stand.example",), door=Door(tmp_path))
    return TestClient(app, base_url="https://stand.example", follow_redirects=False)


def test_nothing_but_the_door_is_seen_from_outside(closed: TestClient) -> None:
    for path in ("/", "/shelf", "/lessons/0123456789abcdef", "/nowhere"):
        answer = closed.get(path)
        assert (answer.status_code, answer.headers.get("location")) == (303, "/login")
    assert closed.post("/lessons", headers=SAME).status_code == 401
    assert closed.get("/login").status_code == 200
    assert closed.get("/static/studio.css").status_code == 200


def test_the_password_opens_and_leaving_closes(closed: TestClient) -> None:
    assert closed.post("/login", data={"password": "wrong"}, headers=SAME).status_code == 403
    answer = closed.post("/login", data={"password": WORDS}, headers=SAME)
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"].lower()
    assert all(word in cookie for word in ("httponly", "samesite=strict", "secure"))
    token = closed.cookies[COOKIE]
    assert closed.get("/shelf").status_code == 200
    closed.post("/logout", headers=SAME)
    assert closed.get("/shelf", headers={"cookie": f"{COOKIE}={token}"}).status_code == 303


def test_a_forged_or_broken_cookie_opens_nothing(closed: TestClient) -> None:
    for value in ("x", "", "a" * 10_000, "\u00e9;;=\x7f"):
        headers = {"cookie": f"{COOKIE}={value}".encode("latin-1")}
        assert closed.get("/shelf", headers=headers).status_code == 303  # type: ignore[arg-type]


def test_guessing_is_slowed_down(closed: TestClient) -> None:
    tries = [closed.post("/login", data={"password": "x"}, headers=SAME) for _ in range(6)]
    assert [t.status_code for t in tries] == [403] * 5 + [429]
    right = closed.post("/login", data={"password": WORDS}, headers=SAME)
    assert right.status_code == 429, "the right one has to wait, too"


def test_the_throttle_lets_go_after_a_while() -> None:
    now = [0.0]
    throttle = Throttle(2, 60, now=lambda: now[0])
    assert [throttle.allows() for _ in range(3)] == [True, True, False]
    now[0] = 61
    assert throttle.allows()


def test_a_session_ends_by_itself(tmp_path: Path) -> None:
    set_password(tmp_path, WORDS)
    now = [0.0]
    door = Door(tmp_path, now=lambda: now[0])
    token = door.opens(WORDS)
    scope = {"type": "http", "path": "/", "headers": [(b"cookie", f"{COOKIE}={token}".encode())]}
    assert door.admits(scope)
    now[0] = 13 * 3600
    assert not door.admits(scope)


def test_the_password_lies_there_as_a_hash_for_its_owner_alone(tmp_path: Path) -> None:
    set_password(tmp_path, WORDS)
    path = tmp_path / "password"
    assert path.read_text().startswith("$argon2id$")
    assert WORDS not in path.read_text()
    assert path.stat().st_mode & 0o077 == 0


def test_a_short_password_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="too short"):
        set_password(tmp_path, "boats")
    assert not (tmp_path / "password").exists()


@pytest.mark.parametrize(
    ("host", "local"),
    [
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("::", False),
        ("192.168.1.7", False),
        ("stand.example", False),
    ],
)
def test_who_can_reach_an_address(host: str, local: bool) -> None:
    assert is_local(host) is local


@pytest.mark.parametrize("reach", [Reach(host="0.0.0.0", port=0), Reach(port=0, behind_proxy=True)])
def test_it_refuses_to_let_others_in_without_a_password(tmp_path: Path, reach: Reach) -> None:
    with pytest.raises(InputError, match="needs a password"):
        serve(tmp_path / "new", reach, opens=False)
    assert not (tmp_path / "new").exists()


def test_a_taken_port_is_told_plainly(tmp_path: Path) -> None:
    from changewright.studio.serve import bind

    with bind("127.0.0.1", 0) as taken:
        taken.listen()
        with pytest.raises(InputError, match="can't listen"):
            serve(tmp_path, Reach(port=taken.getsockname()[1]), opens=False)


def test_the_verb_says_what_it_can_do() -> None:
    told = CliRunner().invoke(commands, ["studio", "--help"], env={"COLUMNS": "120"})
    assert told.exit_code == 0
    assert all(word in told.output for word in ("--port", "--host", "--no-open", "--home"))


def test_the_verb_keeps_a_password(tmp_path: Path) -> None:
    command = ["studio", "--set-password", "--home", str(tmp_path)]
    told = CliRunner().invoke(commands, command, input=f"{WORDS}\n{WORDS}\n")
    assert told.exit_code == 0, told.output
    assert Door(tmp_path / "studio").opens(WORDS)


@pytest.mark.parametrize(
    ("reach", "words"),
    [
        (Reach(port=70_000), "no port"),
        (Reach(root_url="stand.example"), "no address of a studio"),
        (Reach(certificate=Path("stand.pem")), "certificate and its key"),
        (Reach(certificate=Path("no.pem"), key=Path("no.key")), "no file no.pem"),
    ],
)
def test_what_can_not_be_reached_is_told(reach: Reach, words: str) -> None:
    with pytest.raises(InputError, match=words):
        checked(reach)


def test_the_address_that_is_told_is_a_name_of_its_own() -> None:
    assert "stand.example" in Reach(root_url="https://stand.example/").hosts
