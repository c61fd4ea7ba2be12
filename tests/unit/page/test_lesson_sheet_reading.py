"""The changes on a lesson sheet, read at the pitch that the player sees."""

import io
import re
from dataclasses import replace

import pytest
from pypdf import PdfReader

from changewright.chart.model import Form, Pin, form_of
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.unroll import unroll
from changewright.page import lesson_pdf, written_reading
from changewright.page._verovio import STAFF_WIDTH
from changewright.page.look import look_of
from changewright.page.reading import reading_rows, scale_lines
from changewright.page.written_reading import hand_for, written_form
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Name
from changewright.theory.scale import Scale
from tests.unit.page.sheets import BLUES, F, sheet_of

PLAYERS = ("tenor saxophone", "alto saxophone", "trumpet", "horn")
NAME = re.compile(r"\b[A-G](?:bb|##|b|#)?(?![A-Za-z#'’])(?! [a-z])")  # not the article A


def blues(key: str = "F") -> Form:
    return form_of(BLUES, Key.parse(key), title="Low Water Blues")


@pytest.mark.parametrize("player", ["flute", "double bass", "guitar"])
def test_who_reads_concert_names_gets_the_concert_reading_itself(player):
    form = blues()
    concert = analyse(form)
    assert written_reading(form, concert, instrument(player)) is concert


def test_a_tenors_reasons_name_the_tenors_notes():
    # Arithmetic: a tenor reads a major ninth above concert; F A C Eb are G B D F, Bb is C.
    form, tenor = blues(), instrument("tenor saxophone")
    concert = analyse(form)
    written = written_reading(form, concert, tenor)
    lines = scale_lines(concert, hand_for(tenor, concert), written)
    assert [line.symbol for line in lines] == ["G7", "C7", "D7"]
    for line, before in zip(lines, scale_lines(concert, hand_for(tenor, concert)), strict=True):
        assert line.because.startswith(line.scale)
        assert f"this {line.symbol} is" in line.because
        assert "B♭" not in line.because
        assert replace(line, because="") == before


@pytest.mark.parametrize("player", PLAYERS)
def test_reasons_are_the_concert_reasons_with_their_names_moved(player):
    form, reader = blues("C"), instrument(player)
    concert = analyse(form)
    hand = hand_for(reader, concert)
    written = written_reading(form, concert, reader)
    for sounding, seen in zip(concert.changes, written.changes, strict=True):
        told = NAME.findall(sounding.scales[0].because)
        shown = NAME.findall(seen.scales[0].because)
        assert len(told) >= 2
        assert [str(Name.parse(name) + hand.up) for name in told] == shown


@pytest.mark.parametrize("name", shelf())
def test_a_chorus_reads_the_same_at_every_pitch(name):
    """Analysis moves with its pitch: functions, rules and kinds of scales, as on the shelf."""
    form = unroll(shelf_chart(name))
    concert = analyse(form)
    for player in PLAYERS:
        written = written_reading(form, concert, instrument(player))
        assert [c.function for c in written.changes] == [c.function for c in concert.changes]
        assert [[(s.rule, s.scale.kind) for s in c.scales] for c in written.changes] == [
            [(s.rule, s.scale.kind) for s in c.scales] for c in concert.changes
        ]
        assert written.key == hand_for(instrument(player), concert).key


@pytest.mark.parametrize("name", shelf())
def test_numerals_on_a_players_page_are_the_concert_numerals(name):
    concert = analyse(unroll(shelf_chart(name)))
    printed = [
        [
            "".join(run.text for run in text.runs)
            for picture, _ in reading_rows(
                concert, hand_for(instrument(player), concert), look_of("plain")
            )
            for text in picture.texts
            if text.kind == "numeral"
        ]
        for player in ("flute", "tenor saxophone", "horn")
    ]
    assert printed[0] == printed[1] == printed[2]


def test_what_the_author_pinned_moves_along():
    form = blues("Bb")
    pins = (Pin(F(0), F(4), Key.parse("Bb"), Scale.parse("Bb lydian_dom")),)
    form = replace(form, pins=pins, areas=((F(0), Key.parse("Bb")),))
    concert = analyse(form)
    moved = written_form(form, hand_for(instrument("alto saxophone"), concert))
    assert str(moved.key) == "G"
    assert moved.pins[0].key == Key.parse("G")
    assert moved.pins[0].scale == Scale.parse("G lydian_dom")
    assert moved.areas == ((F(0), Key.parse("G")),)
    assert analyse(moved).changes[0].scales[0].rule == "pin"


def test_the_page_prints_the_reasons():
    form, tenor = blues(), instrument("tenor saxophone")
    reading = analyse(form)
    data = lesson_pdf(
        [sheet_of()],
        title="Week 3",
        reading=reading,
        written=written_reading(form, reading, tenor),
    )
    text = " ".join(" ".join(p.extract_text() for p in PdfReader(io.BytesIO(data)).pages).split())
    assert "Because" in text
    assert "this G7 is home in the blues" in text
    assert "this F7" not in text


def test_large_print_has_larger_rows():
    """A row is drawn across fewer units, so that everything on it grows; long symbols get room."""
    reading = analyse(blues())
    hand = hand_for(instrument("flute"), reading)
    large = reading_rows(reading, hand, look_of("plain"), width=0.7 * STAFF_WIDTH)
    assert len(large) == 3
    assert {picture.width for picture, _ in large} == {0.7 * STAFF_WIDTH}
    crowded = analyse(form_of([("Abmaj7(#11)/C", 1), ("G7(b9,b13)", 1)] * 8, Key.parse("Cm")))
    hand = hand_for(instrument("flute"), crowded)
    assert len(reading_rows(crowded, hand, look_of("plain"))) == 1
    assert len(reading_rows(crowded, hand, look_of("plain"), width=0.7 * STAFF_WIDTH)) == 2
