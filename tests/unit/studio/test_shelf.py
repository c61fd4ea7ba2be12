"""The Shelf: a chart is read while typed, told its fault at the bar, and kept in versions."""

import io
from pathlib import Path

import pytest
import soundfile
from starlette.testclient import TestClient

from changewright.chart.musicxml_out import write_musicxml
from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.studio.folder import Folder
from changewright.studio.shapes import NAME, name_of
from tests.unit.studio.manners import SAME

TEXT = "title: Low Tide Drill\nkey: F\n\n| Gm7 | C7 | F6 | % |\n"


def test_every_chart_of_the_starting_shelf_can_be_opened(client: TestClient) -> None:
    listed = client.get("/shelf").text
    for name in shelf():
        assert f'href="/shelf/{name}"' in listed
        answer = client.get(f"/shelf/{name}")
        assert answer.status_code == 200
        assert "<svg" in answer.text, name


def test_what_is_typed_is_read(client: TestClient) -> None:
    answer = client.post("/shelf/read", content=TEXT, headers=SAME)
    assert answer.status_code == 200
    assert "F major, 4 bars" in answer.text
    assert 'aria-label="Bar 1: G m7' in answer.text or "Bar 1" in answer.text
    assert "ii-V-I in F" in answer.text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("key: F\n\n| Gm7 | Fmajj7 |\n", ("Bar 2", "Fmajj7", 'data-line="3"')),
        ("key: F\n\n", ()),
        ("key: H\n\n| F |\n", ('data-line="1"',)),
    ],
)
def test_a_fault_is_placed_at_its_bar(
    client: TestClient, text: str, words: tuple[str, ...]
) -> None:
    headers = {**SAME, "x-fragment": "1"}
    answer = client.post("/shelf/read", content=text, headers=headers)
    assert answer.status_code == 422
    assert 'class="fault"' in answer.text
    assert "<html" not in answer.text
    for word in words:
        assert word in answer.text


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"x" * 200_001, b"\x00"])
def test_what_is_no_chart_is_refused(client: TestClient, content: bytes) -> None:
    assert client.post("/shelf/read", content=content, headers=SAME).status_code == 422


def test_each_keeping_makes_a_version_and_the_older_ones_stay(client: TestClient) -> None:
    first = client.post("/shelf/save", data={"text": TEXT}, headers=SAME)
    assert first.headers["location"].startswith("/shelf/low-tide-drill?version=1")
    again = client.post("/shelf/save", data={"text": TEXT}, headers=SAME)
    assert "version=1" in again.headers["location"], "the same text is no new version"
    second = client.post("/shelf/save", data={"text": TEXT.replace("F6", "Fmaj7")}, headers=SAME)
    assert "version=2" in second.headers["location"]
    assert "Fmaj7" in client.get("/shelf/low-tide-drill").text
    old = client.get("/shelf/low-tide-drill?version=1").text
    assert "| F6 |" in old
    assert "Fmaj7 |" not in old
    assert client.get("/shelf/low-tide-drill?version=3").status_code == 404
    assert "version 2" in client.get("/shelf").text


def test_a_chart_that_can_not_be_read_is_shown_again_with_nothing_lost(client: TestClient) -> None:
    answer = client.post("/shelf/save", data={"text": TEXT + "| Q9 |\n"}, headers=SAME)
    assert answer.status_code == 422
    assert "| Q9 |" in answer.text
    assert client.get("/shelf/low-tide-drill").status_code == 404


def test_a_lead_sheet_in_musicxml_is_brought_in(client: TestClient) -> None:
    source = shelf_chart("quayside-blues")
    xml = write_musicxml(source).encode()
    files = {"score": ("blues.musicxml", xml, "application/xml")}
    answer = client.post("/shelf/import", files=files, headers=SAME)
    assert answer.status_code == 303, answer.text
    kept = client.get(answer.headers["location"]).text
    assert "Quayside Blues" in kept
    assert "| F7 |" in kept


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02", b"<html></html>", b"PK\x03\x04nozip"])
def test_what_is_no_score_is_refused(client: TestClient, content: bytes) -> None:
    files = {"score": ("x.xml", content, "application/xml")}
    assert client.post("/shelf/import", files=files, headers=SAME).status_code == 422


def test_markup_in_a_title_stays_text(client: TestClient) -> None:
    text = TEXT.replace("Low Tide Drill", "<script>alert(1)</script>")
    answer = client.post("/shelf/read", content=text, headers=SAME)
    assert "<script>" not in answer.text
    saved = client.post("/shelf/save", data={"text": text}, headers=SAME)
    assert "<script>alert" not in client.get(saved.headers["location"]).text


@pytest.mark.parametrize(
    "title", ["Low Water Blues", "ÉTUDE no. 1", "../../etc", "  ", "\u6f6e", "a" * 500, "-.-"]
)
def test_a_title_becomes_a_name_that_is_no_path(title: str) -> None:
    assert NAME.fullmatch(name_of(title))


def test_versions_are_files_that_another_program_can_read(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    name, version = folder.save_chart("Low Tide Drill", TEXT)
    path = tmp_path / "charts" / name / f"{version:04}.txt"
    assert read_chart(path.read_text("utf-8")).title == "Low Tide Drill"
    assert [p.name for p in path.parent.iterdir()] == ["0001.txt"], "nothing half-written is left"


def test_the_band_plays_a_chart_once(client: TestClient) -> None:
    """A count-in and one chorus: five bars of four at 240 a minute, and what rings on."""
    text = "title: Brisk Drill\nkey: F\ntempo: 240\n\n| Gm7 | C7 | F6 | % |\n"
    client.post("/shelf/save", data={"text": text}, headers=SAME)
    html = client.get("/shelf/brisk-drill").text
    assert "/shelf/brisk-drill/audition?version=1" in html
    answer = client.get("/shelf/brisk-drill/audition?version=1")
    assert answer.headers["content-type"] == "audio/flac"
    sound = soundfile.info(io.BytesIO(answer.content))
    assert 5 <= sound.frames / sound.samplerate < 12
    assert client.get("/shelf/brisk-drill/audition?version=2").status_code == 404
    assert client.get("/shelf/no-such-chart/audition").status_code == 404


def test_a_bar_is_pinned_by_a_click(client: TestClient) -> None:
    text = b"title: Pins\nkey: C\n\n| Cmaj7 | Fm7 | Bb7 | Cmaj7 |\n"
    answer = client.post("/shelf/pin?bar=2&key=Ab", content=text, headers=SAME)
    assert "Fm7 <in Ab>" in answer.text
    assert "<in" not in client.post("/shelf/pin?bar=2&key=", content=text, headers=SAME).text
    for told in ("bar=9&key=F", "bar=x&key=F", "bar=2&key=H", ""):
        assert client.post(f"/shelf/pin?{told}", content=text, headers=SAME).status_code == 422
