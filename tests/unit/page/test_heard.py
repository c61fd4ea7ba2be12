"""Listening notes on paper and on screen: in order, complete, readable by who can't see."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from changewright.errors import UnknownName
from changewright.page.heard import BarNote, HeardPage
from changewright.page.heard_print import heard_pdf, heard_png
from changewright.page.heard_rows import heard_rows
from changewright.page.heard_screen import heard_html
from changewright.page.pitch_picture import Band, Box, PitchPicture, pitch_svg
from tests.unit.ear.exercises import root_up

_VOID = {"meta", "br", "img", "input", "link"}


def page(**changes: object) -> HeardPage:
    sheet = root_up()
    made = HeardPage(
        title="Listening notes: Slack Water Blues",
        for_whom="Tenor saxophone, Thursday",
        questions=("Which two bars would you keep?", "Where were you least at home?", "What next?"),
        headline="",
        said=(("What worked", "The landings work."), ("To work on", 'Bar 3 has "E" <where> D.')),
        bars=tuple(BarNote(b.number, f"Said of bar {b.number}.", b"RIFF") for b in sheet.bars),
        caveat="A machine's ear.",
        heard=sheet.with_line(sheet.line, ()),
        exercise=sheet,
        strokes=(((0.0, 48.0), (0.9, 48.1)), ((1.0, 52.0), (1.8, 52.2))),
    )
    return replace(made, **changes)


def test_every_bar_is_drawn_and_told_once() -> None:
    rows = heard_rows(page())
    assert [n.number for row in rows for n in row.notes] == list(range(1, 13))
    assert all(row.take and row.exercise and row.picture for row in rows)


def test_a_repeated_passage_is_written_out_under_a_take() -> None:
    sheet = root_up()
    first = sheet.line.notes[:16]
    again = tuple(replace(n, onset=n.onset + 16 * k) for k in range(3) for n in first)
    same = sheet.with_line(replace(sheet.line, notes=again), ())
    rows = heard_rows(page(exercise=replace(same, bars=_one_chord(sheet.bars))))
    assert [n.number for row in rows for n in row.notes] == list(range(1, 13))


def _one_chord(bars):  # type: ignore[no-untyped-def]
    chord = bars[0].changes[0].chord
    return tuple(
        replace(b, label="", changes=tuple(replace(c, chord=chord) for c in b.changes))
        for b in bars
    )


def test_an_open_solo_has_no_exercise_below() -> None:
    rows = heard_rows(page(exercise=None))
    assert all(row.exercise == "" for row in rows)


def test_the_pdf_is_tagged_and_the_same_twice() -> None:
    first = heard_pdf(page())
    assert first == heard_pdf(page())
    assert b"pdfuaid" in first
    with pytest.raises(UnknownName):
        heard_pdf(page(), paper="a3")  # type: ignore[arg-type]


def test_a_page_without_a_verdict_is_a_page_too() -> None:
    silent = page(said=(), bars=(), strokes=(), headline="No notes could be heard.")
    assert heard_png(silent, dots_an_inch=20)[0].startswith(b"\x89PNG")
    assert "No notes could be heard." in heard_html(silent)


class _Tags(HTMLParser):
    """Checks that tags close in order, and keeps what a screen reader meets."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_screen_page_stands_alone() -> None:
    text = heard_html(page())
    tags = _Tags()
    tags.feed(text)
    assert tags.open == []
    addresses = [v for _, a in tags.found for k, v in a.items() if k in ("src", "href")]
    assert all(v and v.startswith("data:") for v in addresses)
    assert "http" not in re.sub(r'xmlns(:xlink)?="[^"]*"', "", text)
    labels = {a.get("for") for t, a in tags.found if t == "label"}
    assert {a.get("id") for t, a in tags.found if t == "textarea"} == labels
    assert sum(t == "audio" for t, _ in tags.found) == 12
    assert not any(t == "script" for t, _ in tags.found)


def test_the_players_own_ears_come_first_and_words_are_escaped() -> None:
    text = heard_html(page())
    assert text.index("Which two bars") < text.index("<details>") < text.index("The landings work")
    assert "<where>" not in text


def _picture(**changes: object) -> PitchPicture:
    made = PitchPicture(
        width=10_000,
        anchors=((0.0, 1000.0), (1.0, 3000.0), (2.0, 4000.0), (4.0, 10_000.0)),
        bars=(10_000.0,),
        bands=(Band(0, 4, 60, "1"), Band(0, 4, 64, "3"), Band(0, 4, 90, "5")),
        boxes=(Box(1, 2, 64),),
        strokes=(((0.0, 60.0), (0.5, 60.2), (1.0, 60.0)),),
        names=((60, "D"),),
        low=58,
        high=66,
    )
    return replace(made, **changes)


def test_the_picture_lies_under_the_notes() -> None:
    picture = _picture()
    assert picture.x(0.5) == 2000
    assert picture.x(3.0) == 7000
    assert picture.x(-1) == 1000
    assert picture.x(9) == 10_000
    assert picture.y(61) < picture.y(60)


def test_the_picture_has_words_labels_and_no_colour() -> None:
    drawn = pitch_svg(_picture(), title="Bars 1 to 4 & more")
    root = ET.fromstring(drawn)
    assert root.get("aria-label") == "Bars 1 to 4 & more"
    texts = [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
    assert texts == ["1", "3", "D"]  # the band at 90 lies outside
    shades = set(re.findall(r"#[0-9a-f]{3,6}", drawn))
    assert all(len(set(re.findall("..", s[1:]) if len(s) == 7 else s[1:])) == 1 for s in shades)
