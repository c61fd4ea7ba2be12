"""What the lesson's verb asks of the page and of the score."""

import io
import xml.etree.ElementTree as ET
from collections.abc import Iterator

import pytest
import typer
from pypdf import PdfReader
from pypdf.generic import IndirectObject
from typer.testing import CliRunner

from changewright.cli.lesson import lesson as verb
from changewright.errors import InputError, UnknownName
from changewright.usecases import lesson_folder
from changewright.usecases.lesson import LessonRequest, plan_lesson
from tests.unit.page.test_lesson_sheet import codes_in

STUDIO = "https://studio.example"


@pytest.fixture
def silent(monkeypatch):
    """The folder without its sound, which other tests hear."""
    monkeypatch.setattr(lesson_folder, "stems_into", lambda folder, played, shelf: ((), None))


def invoke(*args: str):
    app = typer.Typer()
    app.command()(verb)
    return CliRunner().invoke(app, ["quayside-blues", "--for", "tenor saxophone", *args])


@pytest.mark.usefixtures("silent")
def test_the_verb_prints_large_with_answers_and_codes(tmp_path):
    folder = tmp_path / "week"
    options = ("--level", "2", "--family", "targets", "-o", str(folder))
    page = ("--size", "Large", "--answers", "key", "--studio", STUDIO)
    assert invoke(*options, *page).exit_code == 0
    data = (folder / "lesson.pdf").read_bytes()
    text = [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]
    assert any(page.startswith("Answers") for page in text)
    label = lesson_folder.load_manifest(folder)["exercises"][0]["label"]
    assert codes_in(data) == [f"{STUDIO}/exercise/{label}"]
    assert "this G7 is home in the blues" in " ".join(" ".join(text).split())
    usual = tmp_path / "usual"
    assert invoke(*options[:-1], str(usual)).exit_code == 0
    plain = PdfReader(io.BytesIO((usual / "lesson.pdf").read_bytes()))
    assert len(plain.pages) < len(text)
    assert not any(page.extract_text().startswith("Answers") for page in plain.pages)


@pytest.mark.usefixtures("silent")
def test_filled_answers_leave_nothing_open(tmp_path):
    told = {}
    for answers in ("open", "filled"):
        folder = tmp_path / answers
        options = ("--level", "4", "--family", "targets", "--answers", answers, "-o", str(folder))
        assert invoke(*options).exit_code == 0
        told[answers] = "".join(alternatives(PdfReader(folder / "lesson.pdf")))
    assert "left open" in told["open"]
    assert "left open" not in told["filled"]


def alternatives(reader: PdfReader) -> Iterator[str]:
    """What the figures of the file tell to a screen reader."""
    for number in range(1, int(reader.trailer["/Size"])):
        thing = IndirectObject(number, 0, reader).get_object()
        if isinstance(thing, dict) and "/Alt" in thing:
            yield str(thing["/Alt"])


@pytest.mark.parametrize(
    ("option", "known"),
    [
        (("--size", "huge"), "usual, large"),
        (("--answers", "some"), "open, filled, key"),
    ],
)
def test_what_the_page_does_not_offer_is_refused_by_name(option, known):
    result = invoke(*option)
    assert isinstance(result.exception, UnknownName)
    assert known in str(result.exception)


@pytest.mark.usefixtures("silent")
def test_a_studio_without_an_address_writes_nothing(tmp_path):
    result = invoke("--studio", "the boat shed", "-o", str(tmp_path / "week"))
    assert isinstance(result.exception, InputError)
    assert list(tmp_path.iterdir()) == []


CHART = """title: Slack Water
key: F
meter: {meter}
feel: {feel}

section A
| F7 | Bb7 | F7 | C7 |
"""


@pytest.mark.usefixtures("silent")
@pytest.mark.parametrize(
    ("feel", "meter", "swung"),
    [
        ("swing", "4/4", True),
        ("ballad", "4/4", True),  # swung, though its name doesn't say so
        ("jazz-waltz", "3/4", True),
        ("bossa", "4/4", False),
        ("even-eighths", "4/4", False),
        ("twelve-eight", "12/8", False),  # swung as written
    ],
)
def test_the_score_swings_where_the_band_does(tmp_path, feel, meter, swung):
    chart = tmp_path / "chart.txt"
    chart.write_text(CHART.format(feel=feel, meter=meter), "utf-8")
    request = LessonRequest(str(chart), "flute", level=3, families=("guide-tones",))
    lesson_folder.write_lesson(plan_lesson(request), tmp_path / "week")
    score = ET.parse(tmp_path / "week" / "1-guide-tones.musicxml")
    # Source: MusicXML 4.0: a sound with a swing element, or straight time.
    assert (score.find(".//sound/swing/first") is not None) is swung


@pytest.mark.usefixtures("silent")
def test_a_page_made_with_ones_own_phrases_bears_no_code(tmp_path):
    """The studio could not compose it again: its label tells nothing of the phrases."""
    phrases = tmp_path / "phrases"
    phrases.mkdir()
    (phrases / "mine.txt").write_text(
        "title: Home by Arpeggios\nby: Quayside workshop\nkey: F\nrights: own work\n\n"
        "| Gm7 | F7 |\nmelody | -:1/2 G4 Bb4 D5 F5 D5 Bb4 A4 | A4:1 C5:1/2 A4 F4:1 -:1 |\n",
        encoding="utf-8",
    )
    folder = tmp_path / "week"
    options = ("--level", "2", "--family", "targets", "--phrases", str(phrases), "-o", str(folder))
    assert invoke(*options, "--studio", STUDIO).exit_code == 0
    assert codes_in((folder / "lesson.pdf").read_bytes()) == []
