"""Books at the Desk: a file in, pages out; stopped and gone on with; then on the Shelf."""

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from changewright.studio import press
from changewright.studio.bookcase import FILE, MOST_BOOKS, Bookcase
from changewright.studio.folder import Folder
from changewright.studio.press import take_up_books
from changewright.studio.studio import Studio
from tests.unit.studio.manners import SAME, app_over

BOOK = """title = "One key by Thursday"
author = "Quayside workshop"
keys = ["F"]
editions = ["B-flat"]
scales = false
answers = false

[[exercises]]
charts = ["slow-leak-astern"]
levels = [2]
families = ["root-up"]
"""
TIDE = "title: Low Tide Drill\nkey: F\n\n| Gm7 | C7 | F6 | % |\n"


def give(client: TestClient, text: str = BOOK) -> Any:
    return client.post("/books", data={"text": text}, headers=SAME)


def studio(client: TestClient) -> Studio:
    found: Studio = client.app._app.state.studio  # type: ignore[attr-defined]
    return found


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    """A studio with one book that is there; nobody may change it."""
    app = app_over(tmp_path_factory.mktemp("booked"))
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as client:
        answer = give(client)
        assert answer.status_code == 303, answer.text
        yield client, answer.headers["location"]


def test_a_book_is_made_and_stands_on_the_shelf(made: tuple[TestClient, str]) -> None:
    client, at = made
    assert client.get(f"{at}/state").json()["state"] == "made"
    assert at in client.get("/shelf").text
    assert at not in client.get("/").text, "it is no longer in the making"
    html = client.get(at).text
    assert "One key by Thursday" in html
    assert "1 exercise on" in html


def test_its_editions_can_be_fetched(made: tuple[TestClient, str]) -> None:
    client, at = made
    [edition] = re.findall(rf"{at}/editions/[a-z-]+", client.get(at).text)
    answer = client.get(edition)
    assert answer.headers["content-type"] == "application/pdf"
    text = "".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.content)).pages)
    assert "One key by Thursday" in text
    with ZipFile(io.BytesIO(client.get(f"{at}/book.zip").content)) as whole:
        names = whole.namelist()
    assert "book.json" in names
    assert sum(name.endswith(".pdf") for name in names) == 1
    assert client.get(f"{at}/editions/e-flat").status_code == 404
    assert client.get(f"{at}/editions/..%2f..%2fgiven%2fbook.toml").status_code == 404


def test_the_same_file_is_the_same_book(made: tuple[TestClient, str]) -> None:
    client, at = made
    assert give(client).headers["location"] == at
    upload = {"book": ("book.toml", BOOK.encode())}
    assert client.post("/books", files=upload, headers=SAME).headers["location"] == at
    other = client.get(f"/books/new?of={at.rpartition('/')[2]}").text
    assert "slow-leak-astern" in other


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (BOOK.replace("title", "naming"), "line 1"),
        (BOOK.replace("levels = [2]", "levels = [42]"), "line 10"),
        (BOOK.replace("slow-leak-astern", "no-such-chart"), "line 9"),
        (BOOK + "]", "not TOML"),
        (BOOK + "\ufffd", "no text"),
        ("", "title"),
        ("#" * 300_000, "too many"),
    ],
)
def test_a_fault_is_placed_in_the_file(client: TestClient, wrong: str, words: str) -> None:
    answer = give(client, wrong)
    assert answer.status_code == 422
    assert words in answer.text
    assert wrong[:40].partition("\n")[0].strip('"')[:5] in answer.text, "nothing typed is lost"
    assert not studio(client).books.names()


@pytest.mark.parametrize(
    "name", ["/etc/passwd", "../../password", "given/book.toml", "book.toml", "~/x", "."]
)
def test_a_book_names_charts_of_the_shelf_and_no_files(client: TestClient, name: str) -> None:
    answer = give(client, BOOK.replace("slow-leak-astern", name))
    assert answer.status_code == 422
    assert "no chart" in answer.text
    assert "root:" not in answer.text


def test_a_chart_of_ones_own_is_taken_as_it_is_now(client: TestClient) -> None:
    client.post("/shelf/save", data={"text": TIDE}, headers=SAME)
    text = BOOK.replace("slow-leak-astern", "low-tide-drill")
    first = give(client, text).headers["location"]
    assert client.get(f"{first}/state").json()["state"] == "made"
    client.post("/shelf/save", data={"text": TIDE.replace("F6", "Fmaj7")}, headers=SAME)
    assert give(client, text).headers["location"] != first, "another version, another book"


def test_a_book_is_stopped_and_goes_on(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped at the first step that is told; gone on with, it is there."""
    real = press.make_book

    def stopped(*told: Any, progress: Any) -> Any:
        for name in studio(client).books.names():
            studio(client).books.stop(name)
        return real(*told, progress=progress)

    with monkeypatch.context() as patch:
        patch.setattr(press, "make_book", stopped)
        at = give(client).headers["location"]
    assert client.get(f"{at}/state").json()["state"] == "stopped"
    assert "Go on" in client.get(at).text
    assert at in client.get("/").text
    assert client.get(f"{at}/book.zip").status_code == 404
    assert take_up_books(studio(client)) == 0, "who was told to stop waits to be told to go on"
    client.post(f"{at}/make", headers=SAME)
    assert client.get(f"{at}/state").json()["state"] == "made"


def test_how_far_it_is(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[Any] = []
    real = press.make_book

    def watched(*told: Any, progress: Any) -> Any:
        def heard(step: str, done: int, total: int) -> None:
            progress(step, done, total)
            [name] = studio(client).books.names()
            seen.append(client.get(f"/books/{name}/state").json())
            assert client.get(f"/books/{name}").status_code == 202

        return real(*told, progress=heard)

    monkeypatch.setattr(press, "make_book", watched)
    give(client)
    assert {"working"} == {one["state"] for one in seen}
    assert "Composing and engraving: 1 of 1." in [one["words"] for one in seen]


def test_a_book_that_broke_says_so_and_can_be_tried_again(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def breaks(*_: Any, **__: Any) -> Any:
        raise RuntimeError("a wheel came off")

    with monkeypatch.context() as patch:
        patch.setattr(press, "make_book", breaks)
        at = give(client).headers["location"]
    assert "a wheel came off" in caplog.text
    answer = client.get(at)
    assert answer.status_code == 422
    assert "Try again" in answer.text
    client.post(f"{at}/make", headers=SAME)
    assert client.get(f"{at}/state").json()["state"] == "made"


def test_a_line_that_the_rules_refuse_is_placed_in_the_file(client: TestClient) -> None:
    """The band's range leaves no line: common practice, no source; the reader names the entry."""
    text = BOOK.replace('families = ["root-up"]', 'families = ["root-up"]\ntempo = 5')
    assert "line 12" in give(client, text).text


def test_a_studio_that_was_killed_goes_on_with_its_books(tmp_path: Path) -> None:
    name = Bookcase(Folder(tmp_path)).keep(BOOK)
    with TestClient(app_over(tmp_path), base_url="http://127.0.0.1") as client:
        assert client.get(f"/books/{name}/state").json()["state"] == "made"


def test_a_book_can_be_deleted(client: TestClient) -> None:
    at = give(client).headers["location"]
    assert client.post(f"{at}/delete", headers=SAME).status_code == 303
    assert client.get(at).status_code == 404
    assert at not in client.get("/shelf").text


def test_there_is_an_end_to_books(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("changewright.studio.bookcase.MOST_BOOKS", 1)
    case = Bookcase(Folder(tmp_path))
    case.keep(BOOK)
    assert case.keep(BOOK) in case.names()
    with pytest.raises(Exception, match="already"):
        case.keep(BOOK.replace("One key", "Another key"))
    assert MOST_BOOKS > 1
    assert FILE == "book.toml"


def test_who_is_no_teacher_finds_no_books(made: tuple[TestClient, str]) -> None:
    """A form from elsewhere is refused like all others."""
    client, _ = made
    assert client.post("/books", data={"text": BOOK}).status_code == 403


def test_the_shelf_holds_phrases_and_feels(client: TestClient) -> None:
    html = client.get("/shelf").text
    for words in ("Bossa nova", "Jazz waltz", "/shelf/feels/swing", "From level"):
        assert words in html
    assert client.get("/shelf/feels/polka").status_code == 404


@pytest.mark.parametrize("feel", ["jazz-waltz", "twelve-eight"])
def test_a_feel_can_be_heard(client: TestClient, feel: str) -> None:
    import soundfile

    answer = client.get(f"/shelf/feels/{feel}")
    assert answer.headers["content-type"] == "audio/flac"
    sound, rate = soundfile.read(io.BytesIO(answer.content))
    assert len(sound) > 5 * rate
    assert abs(sound).max() > 0.05
