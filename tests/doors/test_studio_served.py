"""The studio as it is served: killed and started again, over https, behind a proxy."""

import http.client
import json
import os
import shutil
import signal
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from email.message import Message
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlencode, urlsplit

import pytest

pytestmark = pytest.mark.slow

RUN = "from changewright.cli.main import main; main()"
WORDS = "four boats in a row"
LONGEST_S = 240
FORM = {"content-type": "application/x-www-form-urlencoded", "sec-fetch-site": "same-origin"}


@contextmanager
def served(home: Path, *options: str) -> Iterator[tuple[str, "subprocess.Popen[str]"]]:
    command = [sys.executable, "-c", RUN, "studio", "--home", str(home), "--port", "0", "--no-open"]
    with subprocess.Popen([*command, *options], stdout=subprocess.PIPE, text=True) as studio:
        assert studio.stdout is not None
        try:
            yield studio.stdout.readline().split()[-1], studio
        finally:
            studio.terminate()


class Answer(NamedTuple):
    status: int
    headers: Message
    body: bytes


def asked(address: str, path: str, form: dict[str, str] | None = None, **headers: str) -> Answer:
    at = urlsplit(address)
    assert at.hostname
    line: http.client.HTTPConnection
    if at.scheme == "https":
        unknown = ssl.create_default_context()
        unknown.check_hostname, unknown.verify_mode = False, ssl.CERT_NONE
        line = http.client.HTTPSConnection(at.hostname, at.port, timeout=60, context=unknown)
    else:
        line = http.client.HTTPConnection(at.hostname, at.port, timeout=60)
    method, body = ("GET", None) if form is None else ("POST", urlencode(form))
    with closing(line):
        line.request(method, path, body, {**(FORM if form is not None else {}), **headers})
        answer = line.getresponse()
        return Answer(answer.status, answer.headers, answer.read())


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + LONGEST_S
    while not true():
        assert time.monotonic() < end
        time.sleep(0.2)


def making(studio: int) -> list[int]:
    """The processes that a studio has started."""
    told = Path(f"/proc/{studio}/task/{studio}/children").read_text()
    return [int(pid) for pid in told.split()]


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="looks for processes in /proc")
def test_killed_with_its_worker_it_makes_the_lesson_once_when_it_starts(tmp_path: Path) -> None:
    wanted = {"chart": "quayside-blues@0", "instrument": "flute", "level": "1", "family": "root-up"}
    with served(tmp_path) as (address, studio):
        lesson = str(asked(address, "/lessons", wanted).headers["location"])
        until(lambda: state(address, lesson) == "working")
        workers = making(studio.pid)
        for pid in (studio.pid, *workers):
            os.kill(pid, signal.SIGKILL)
        studio.wait(30)
    lessons = tmp_path / "studio" / "lessons"
    assert not (lessons / lesson.rpartition("/")[2]).exists()
    with served(tmp_path) as (address, _):
        until(lambda: state(address, lesson) == "made")
        until(lambda: asked(address, lesson).status == 200)
    # A worker that had only just begun may outlive the studio, and the second be stopped half-way;
    # what that leaves is hidden, and goes at the next start.
    made = [p.name for p in lessons.iterdir() if not p.name.startswith(".")]
    assert made == [lesson.rpartition("/")[2]]


def state(address: str, lesson: str) -> str:
    return str(json.loads(asked(address, f"{lesson}/state").body)["state"])


@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl to make a certificate")
def test_it_is_served_over_https_with_a_certificate(tmp_path: Path) -> None:
    cert, key = tmp_path / "stand.pem", tmp_path / "stand.key"
    order = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"]
    names = ["-subj", "/CN=stand.example", "-out", str(cert), "-keyout", str(key)]
    subprocess.run([*order, *names], check=True, capture_output=True)
    with served(tmp_path, "--tls-cert", str(cert), "--tls-key", str(key)) as (address, _):
        assert address.startswith("https://")
        assert asked(address, "/shelf").status == 200


def test_behind_a_proxy_it_asks_for_the_password_and_knows_https(tmp_path: Path) -> None:
    set_it = [sys.executable, "-c", RUN, "studio", "--home", str(tmp_path), "--set-password"]
    subprocess.run(set_it, input=f"{WORDS}\n{WORDS}\n", text=True, check=True, capture_output=True)
    told = {"x-forwarded-proto": "https", "x-forwarded-for": "192.0.2.7", "host": "stand.example"}
    options = ("--behind-proxy", "--root-url", "https://stand.example")
    with served(tmp_path, *options) as (address, _):
        assert asked(address, "/", **told).headers["location"] == "/login"
        answer = asked(address, "/login", {"password": WORDS}, **told)
        assert answer.status == 303
        assert "Secure" in str(answer.headers["set-cookie"])
        assert asked(address, "/login", **{**told, "host": "elsewhere.example"}).status == 400


BOOK = """title = "Twelve keys by Thursday"
author = "Quayside workshop"
keys = "fourths"
editions = ["B-flat"]

[[exercises]]
charts = ["quayside-blues"]
levels = [3]
families = ["root-up", "guide-tones", "targets", "approach-notes"]
"""


def test_a_book_is_stopped_and_goes_on_where_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a process of its own: other pages answer meanwhile, a stop comes at the next step, and
    what was finished is not made again."""
    monkeypatch.setenv("CHANGEWRIGHT_CACHE", str(tmp_path / "cache"))
    with served(tmp_path / "home") as (address, _):
        at = str(asked(address, "/books", {"text": BOOK}).headers["location"])

        def told() -> dict[str, object]:
            found: dict[str, object] = json.loads(asked(address, f"{at}/state").body)
            return found

        until(lambda: "done" in told())
        assert asked(address, "/").status == 200
        asked(address, f"{at}/stop", {})
        until(lambda: told()["state"] != "working")
        assert told()["state"] == "stopped"
        kept = len([p for p in (tmp_path / "cache").rglob("*") if p.is_file()])
        assert kept
        asked(address, f"{at}/make", {})
        until(lambda: told()["state"] == "made")
        assert asked(address, f"{at}/editions/b-flat").body.startswith(b"%PDF")
        assert asked(address, f"{at}/book.zip").body.startswith(b"PK")
