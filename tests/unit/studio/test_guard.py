"""What must not come in does not, and what goes out says what a page may load.

Sources: Content Security Policy Level 3; Fetch Metadata Request Headers; OWASP cheat sheets on
cross-site request forgery and on DNS rebinding.
"""

from collections.abc import Iterator

import pytest
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient
from starlette.types import Receive, Scope, Send

from changewright.studio.app import make_app
from changewright.studio.door import Throttles
from changewright.studio.guard import MOST_BYTES, Guard
from tests.unit.studio.manners import LESSON, SAME

PAGES = ("/", "/shelf", "/shelf/new", "/shelf/quayside-blues", "/static/studio.css", "/nowhere")


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_carries_the_policy(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = dict(
        part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert "server" not in headers


@pytest.mark.parametrize("path", PAGES[:4])
def test_no_page_needs_what_the_policy_forbids(client: TestClient, path: str) -> None:
    html = client.get(path).text
    assert "<style" not in html
    assert " style=" not in html
    assert "javascript:" not in html
    assert "http://" not in html.replace("http://www.w3.org/", "")
    assert "https://" not in html
    assert "<script>" not in html


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {},
    ],
)
def test_a_form_from_elsewhere_is_refused(client: TestClient, headers: dict[str, str]) -> None:
    for path in ("/lessons", "/shelf/save", "/shelf/read", "/shelf/import", "/login"):
        assert client.post(path, data=LESSON, headers=headers).status_code == 403
    assert "Made before" not in client.get("/").text


def test_a_browser_without_fetch_metadata_is_known_by_its_origin(client: TestClient) -> None:
    headers = {"origin": "http://127.0.0.1"}
    assert client.post("/shelf/read", content="| F7 |", headers=headers).status_code == 200


@pytest.mark.parametrize("host", ["rebound.example", "rebound.example:8374", "", "127.0.0.1.evil"])
def test_another_name_is_turned_away(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost:8374", "[::1]:8374", "[::1]"])
def test_this_machine_is_known_by_its_names(client: TestClient, host: str) -> None:
    assert client.get("/shelf/new", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static//etc/passwd",
        "/fonts/../look.otf",
        "/fonts/%2e%2e%2flook.otf",
        "/shelf/..%2f..%2fpasswd",
        "/shelf/quayside-blues%00",
        "/lessons/%2e%2e%2f%2e%2e",
        "/lessons/0123456789abcdef",
        "/lessons/0123456789abcdef/1",
        "/lessons/0123456789abcdef/1/stems/..%2flesson.json",
        "/lessons/0123456789abcdef/lesson.pdf",
        "/lessons/0123456789abcdef/1/takes/..%2f..%2fx",
    ],
)
def test_no_path_leads_out(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_a_request_that_says_it_is_too_large_is_not_read(client: TestClient) -> None:
    headers = {**SAME, "content-length": str(MOST_BYTES + 1)}
    assert client.post("/shelf/read", content=b"x", headers=headers).status_code == 413
    headers["content-length"] = "9" * 40
    assert client.post("/shelf/read", content=b"x", headers=headers).status_code == 413


def test_a_request_that_lies_about_its_size_is_dropped_half_way(client: TestClient) -> None:
    sent = 0

    def chunks() -> Iterator[bytes]:
        nonlocal sent
        for _ in range(60):
            sent += 1_000_000
            yield b"x" * 1_000_000

    assert client.post("/shelf/read", content=chunks(), headers=SAME).status_code == 413


def test_an_unknown_address_has_a_page_of_its_own(client: TestClient) -> None:
    answer = client.get("/nowhere")
    assert answer.status_code == 404
    assert "There is no such page" in answer.text
    assert client.get("/lessons").status_code == 405


def test_the_app_can_be_made_twice(tmp_path_factory: pytest.TempPathFactory) -> None:
    for _ in range(2):
        assert make_app(tmp_path_factory.mktemp("studio")) is not None


def test_who_sends_too_often_waits_and_others_do_not() -> None:
    throttles = Throttles(2, 60.0, most=2)
    assert [throttles.allows("a") for _ in range(3)] == [True, True, False]
    assert throttles.allows("b")
    assert not throttles.allows("a")
    throttles.allows("c")
    throttles.allows("d")
    assert throttles.allows("b"), "who was forgotten begins anew, and memory is bounded"


def test_a_flood_of_changes_is_turned_away_and_looking_is_not() -> None:
    async def page(scope: Scope, receive: Receive, send: Send) -> None:
        await PlainTextResponse("here")(scope, receive, send)

    guard = Guard(page, hosts=("stand.example",), changes=Throttles(2, 60.0).allows)
    client = TestClient(guard, base_url="https://stand.example")
    same = {"sec-fetch-site": "same-origin"}
    assert [client.post("/", headers=same).status_code for _ in range(3)] == [200, 200, 429]
    assert client.get("/").status_code == 200
