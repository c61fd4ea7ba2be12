"""The studio behind a real reverse proxy, configured as docs/studio.md says.

``tools/nginx.sh`` fetches it. Without it these tests are skipped, unless
``CHANGEWRIGHT_NEEDS_NGINX`` is set, as it is where they must run.
"""

import http.client
import os
import re
import shutil
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import urlencode

import pytest

from changewright.studio.app import CHANGES_A_MINUTE
from tests.doors.test_studio_served import FORM, RUN, WORDS, Answer, served, until

pytestmark = pytest.mark.slow

NAME = "stand.example"
NGINX = shutil.which("nginx", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
DOCUMENTED = Path(__file__).parents[2] / "docs" / "studio.md"
PLAYER = {"nickname": "Clarinet, Thursday", "instrument": "clarinet", "age_band": "adult"}
AROUND = """{user}daemon off;
worker_processes 1;
error_log stderr warn;
pid {at}/nginx.pid;
events {{ worker_connections 64; }}
http {{
  access_log off;
  client_body_temp_path {at}/body;
  proxy_temp_path {at}/proxy;
  fastcgi_temp_path {at}/fastcgi;
  uwsgi_temp_path {at}/uwsgi;
  scgi_temp_path {at}/scgi;
{server}
}}
"""
"""What a machine's own configuration has around the server of the documentation."""


VISITORS: list["Visitor"] = []


class Visitor:
    """A browser's manners on one connection: its cookies, its name for the studio, its address."""

    def __init__(self, port: int, source: str = "127.0.0.1") -> None:
        unknown = ssl.create_default_context()
        unknown.check_hostname, unknown.verify_mode = False, ssl.CERT_NONE
        self.line = http.client.HTTPSConnection(
            "127.0.0.1", port, timeout=120, context=unknown, source_address=(source, 0)
        )
        self.cookie = ""
        VISITORS.append(self)

    def asks(self, method: str, path: str, body: bytes | None = None, **headers: str) -> Answer:
        told = {"host": NAME, "cookie": self.cookie, "sec-fetch-site": "same-origin", **headers}
        self.line.request(method, path, body, told)
        answer = self.line.getresponse()
        return Answer(answer.status, answer.headers, answer.read())

    def sends(self, path: str, form: dict[str, str]) -> Answer:
        answer = self.asks("POST", path, urlencode(form).encode(), **FORM)
        if "set-cookie" in answer.headers:
            self.cookie = str(answer.headers["set-cookie"]).partition(";")[0]
        return answer


def free_port() -> int:
    with closing(socket.socket()) as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def configured(at: Path, port: int, studio: str) -> Path:
    """The server of docs/studio.md with this test's certificate and ports in it."""
    found = re.search(r"```nginx\n(.+?)```", DOCUMENTED.read_text("utf-8"), re.DOTALL)
    assert found
    server = found[1]
    for documented, ours in {
        "listen 443 ssl": f"listen 127.0.0.1:{port} ssl",
        "/etc/ssl/stand.pem": f"{at}/stand.pem",
        "/etc/ssl/stand.key": f"{at}/stand.key",
        "http://127.0.0.1:8374": studio.rstrip("/"),
    }.items():
        assert server.count(documented) == 1
        server = server.replace(documented, ours)
    path = at / "nginx.conf"
    # PITFALL: as root it would hand its work to a user who can't see this test's folder.
    user = "" if os.geteuid() else "user root;\n"
    path.write_text(AROUND.format(user=user, at=at, server=server), encoding="utf-8")
    return path


def certificate(at: Path) -> None:
    order = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"]
    names = ["-subj", f"/CN={NAME}", "-out", f"{at}/stand.pem", "-keyout", f"{at}/stand.key"]
    subprocess.run([*order, *names], check=True, capture_output=True)


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """The port of a proxy with a studio behind it."""
    if NGINX is None or shutil.which("openssl") is None:
        told = "no nginx or no openssl here: run 'sh tools/nginx.sh'"
        if os.environ.get("CHANGEWRIGHT_NEEDS_NGINX"):
            pytest.fail(told)
        pytest.skip(told)
    home, at = tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("proxy")
    set_it = [sys.executable, "-c", RUN, "studio", "--home", str(home), "--set-password"]
    subprocess.run(set_it, input=f"{WORDS}\n{WORDS}\n", text=True, check=True, capture_output=True)
    certificate(at)
    listening = free_port()
    with served(home, "--behind-proxy", "--root-url", f"https://{NAME}") as (studio, _):
        config = configured(at, listening, studio)
        with subprocess.Popen([NGINX, "-c", str(config), "-p", str(at)]) as proxy:
            until(lambda: answers(listening))
            yield listening
            for one in VISITORS:
                one.line.close()
            proxy.terminate()


def answers(port: int) -> bool:
    with closing(socket.socket()) as one:
        return one.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture(scope="module")
def teacher(port: int) -> Visitor:
    """Who logged in."""
    one = Visitor(port)
    answer = one.sends("/login", {"password": WORDS})
    assert answer.status == 303
    cookie = str(answer.headers["set-cookie"])
    assert all(word in cookie for word in ("Secure", "HttpOnly", "SameSite=strict"))
    return one


@pytest.fixture(scope="module")
def stand(teacher: Visitor) -> str:
    """The address of a Stand, and its player agrees to be recorded."""
    player = str(teacher.sends("/players", {**PLAYER, "day": "2"}).headers["location"])
    teacher.sends(f"{player}/consent", {"given_by": "the player"})
    wanted = {"chart": "slow-leak-astern@0", "family": "root-up", "player": player[9:]}
    lesson = str(teacher.sends("/lessons", wanted).headers["location"])
    until(lambda: b'"made"' in teacher.asks("GET", f"{lesson}/state").body)
    return f"{lesson}/1"


def test_nobody_is_led_back_to_plain_http(port: int, teacher: Visitor, stand: str) -> None:
    """RFC 9110: a relative Location stays on the scheme and host that were asked."""
    stranger = Visitor(port)
    places = [
        stranger.asks("GET", "/"),
        stranger.asks("GET", stand),
        teacher.asks("POST", stand.removesuffix("/1") + "/change", b"way=another", **FORM),
        teacher.asks("GET", "/static"),
    ]
    for answer in places:
        at = str(answer.headers.get("location", ""))
        assert at.startswith(("/", f"https://{NAME}")), at
    assert stranger.asks("GET", "/login").status == 200
    assert stranger.asks("GET", "/", host="elsewhere.example").status == 400


def test_the_stand_comes_whole_and_its_microphone_may_be_used(teacher: Visitor, stand: str) -> None:
    page = teacher.asks("GET", stand)
    assert page.status == 200
    assert b"<svg" in page.body
    assert b"http://" not in page.body.replace(b"http://www.w3.org", b"")
    assert page.headers["cross-origin-embedder-policy"] == "require-corp"
    assert teacher.asks("GET", f"{stand}/stems/bass").body.startswith(b"fLaC")
    link = teacher.asks("POST", stand.removesuffix("/1") + "/invite", b"", **FORM)
    assert f"https://{NAME}/join/".encode() in link.body


def test_a_take_is_sent_and_heard(teacher: Visitor, stand: str) -> None:
    """The model line, whole, and a take in pieces, by PUT."""
    line = teacher.asks("GET", f"{stand}/stems/line").body
    answer = teacher.asks("POST", f"{stand}/takes?key={'a1' * 16}", line)
    assert answer.status == 200
    assert b"What the machine heard" in answer.body
    piece = f"{stand}/takes/{'b2' * 16}/pieces/0?rate=48000"
    assert teacher.asks("PUT", piece, bytes(96_000)).status == 204


def test_a_long_take_passes_and_what_is_longer_does_not(teacher: Visitor, stand: str) -> None:
    longest = teacher.asks("POST", f"{stand}/takes?key=wrong", bytes(39_000_000))
    assert longest.status == 422, "it came through, and its key was looked at"
    assert "content-security-policy" in longest.headers
    assert teacher.asks("POST", f"{stand}/takes?key=wrong", bytes(1)).status == 422
    more = Visitor(int(teacher.line.port))
    more.cookie = teacher.cookie
    try:
        status = more.asks("POST", f"{stand}/takes?key=wrong", bytes(43_000_000)).status
    except (BrokenPipeError, ConnectionResetError):
        status = 413  # refused before it was sent
    assert status == 413


def test_each_address_is_counted_by_itself(port: int, teacher: Visitor, stand: str) -> None:
    """Who sends too much is turned away, whatever he says of his address; others are not."""
    noisy = Visitor(port, "127.0.0.2")
    since = time.monotonic()
    seen = {
        noisy.asks("POST", stand, b"", **{"x-forwarded-for": f"192.0.2.{n % 250}"}).status
        for n in range(CHANGES_A_MINUTE)
    }
    assert time.monotonic() - since < 60, "all within the minute that is counted"
    assert seen == {401}
    assert noisy.asks("POST", stand, b"").status == 429
    assert Visitor(port, "127.0.0.3").asks("POST", stand, b"").status == 401
    assert teacher.asks("POST", f"{stand}/takes?key=wrong", b"").status == 422
