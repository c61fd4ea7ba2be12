import io
from itertools import pairwise

import pytest
from pypdf import PdfReader

from changewright.chart.model import form_of
from changewright.music.written import Hand
from changewright.page import lesson_pdf
from changewright.page.drawing import Box
from changewright.page.look import look_of
from changewright.page.reading import reading_rows, scale_lines
from changewright.page.svg import Picture
from changewright.page.written_reading import hand_for as written_hand
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.transposition import transpose_key_for, written_shift
from tests.unit.page.sheets import BLUES, sheet_of

TURN = [("Cmaj7", 4), ("A7(b9)", 4), ("Dm7", 4), ("G7", 4), ("Gm7", 2), ("C7", 2), ("Fmaj7", 4)]
PLAIN = look_of("plain")


def hand_for(player_id: str, key: Key) -> Hand:
    player = instrument(player_id)
    return Hand(written_shift(player, key), transpose_key_for(player, key))


def read(symbols, player: str = "flute", key: str = "C", look: str = "plain"):
    reading = analyse(form_of(symbols, Key.parse(key)))
    return reading_rows(reading, hand_for(player, reading.key), look_of(look))


def said(picture: Picture, kind: str) -> list[str]:
    return ["".join(r.text for r in t.runs) for t in picture.texts if t.kind == kind]


def test_four_bars_stand_in_a_row():
    rows = read(TURN)
    assert len(rows) == 2
    assert said(rows[0][0], "symbol") == ["Cmaj7", "A7(♭9)", "Dm7", "G7"]
    assert said(rows[1][0], "symbol") == ["Gm7", "C7", "Fmaj7"]


def test_numerals_stand_under_their_symbols():
    picture, _ = read(TURN)[0]
    symbols = [t for t in picture.texts if t.kind == "symbol"]
    numerals = [t for t in picture.texts if t.kind == "numeral"]
    assert [t.x for t in symbols] == [t.x for t in numerals]
    assert said(picture, "numeral")[0].startswith("I")
    assert said(picture, "numeral")[3].startswith("V")
    for symbol, numeral in zip(symbols, numerals, strict=True):
        assert numeral.box.top > symbol.box.bottom


def test_the_five_points_to_its_one():
    row, _ = read([("Dm7", 4), ("G7", 4), ("Cmaj7", 8)])[0]
    heads = [s for s in row.shapes if s.kind == "head"]
    assert len(heads) == 1
    one = next(t for t in row.texts if said(row, "symbol") and t.kind == "symbol"
               and t.runs[0].text == "C")  # fmt: skip
    assert heads[0].box.left < one.box.right
    assert heads[0].box.right > one.box.left


def test_an_arrow_crosses_to_the_next_row():
    symbols = [("Cmaj7", 4), ("Am7", 4), ("Dm7", 4), ("G7", 4), ("Cmaj7", 4), ("Cmaj7", 4)]
    first, second = (picture for picture, _ in read(symbols))
    assert not [s for s in first.shapes if s.kind == "head"]
    assert len([s for s in second.shapes if s.kind == "head"]) == 1


def test_an_interrupted_two_five_has_a_bracket_and_no_arrow():
    symbols = [("Dm7", 2), ("G7", 2), ("Em7", 2), ("A7", 2), ("Dm7", 2), ("G7", 2), ("Cmaj7", 4)]
    row, _ = read(symbols)[0]
    lines = [s.path for s in row.shapes if s.kind == "line" and s.path]
    brackets = [path for path in lines if path.count("V") == 2 and path.count("H") == 1]
    assert len(brackets) == 3
    assert len([s for s in row.shapes if s.kind == "head"]) == 1


def test_a_suspended_five_is_no_two():
    row, _ = read([("Gm7/C", 2), ("C7sus4", 2), ("Fmaj7", 4)], key="F")[0]
    lines = [s.path for s in row.shapes if s.kind == "line" and s.path]
    assert not [path for path in lines if path.count("V") == 2]


def test_a_bar_like_the_one_before_is_a_simile():
    row, _ = read([("C7", 4), ("C7", 4), ("F7", 4), ("C7", 4)])[0]
    assert said(row, "symbol") == ["C7", "F7", "C7"]
    assert len([s for s in row.shapes if s.kind == "simile"]) == 3


def test_the_player_reads_written_pitch():
    rows = read(BLUES, player="alto saxophone", key="F")
    assert said(rows[0][0], "symbol") == ["D7"]
    assert any("D" in name for name in said(rows[0][0], "key"))
    assert "Bar 1: D 7" in rows[0][1]


def test_scales_are_listed_once_with_reasons_at_concert_pitch_only():
    reading = analyse(form_of(BLUES, Key.parse("F")))
    concert = scale_lines(reading, hand_for("flute", reading.key))
    assert [line.symbol for line in concert][:1] == ["F7"]
    assert concert[0].tones == "F A C E♭"
    assert concert[0].because
    written = scale_lines(reading, hand_for("trumpet", reading.key))
    assert written[0].tones == "G B D F"
    assert not written[0].because
    assert len(written) == len({(w.symbol, w.scale) for w in written})


@pytest.mark.parametrize("look", ["plain", "handwritten"])
@pytest.mark.parametrize("player", ["flute", "alto saxophone", "trumpet"])
def test_texts_keep_apart_and_inside_the_row(player, look):
    symbols = [("Abmaj7(#11)/C", 1), ("G7(b9,b13)", 1), ("Cm(maj7)", 1), ("Fm11", 1)] * 4
    for picture, _ in read(symbols, player=player, key="Cm", look=look):
        frame = picture.frame
        for text in picture.texts:
            assert frame.left <= text.box.left
            assert text.box.right <= frame.right
            assert frame.top <= text.box.top
            assert text.box.bottom <= frame.bottom
        for kind in ("symbol", "numeral"):
            row = sorted((t.box for t in picture.texts if t.kind == kind), key=lambda b: b.left)
            assert not any(Box.meets(a, b) for a, b in pairwise(row))


def test_the_reading_is_printed_before_the_exercises():
    form = form_of(BLUES, Key.parse("F"), title="Low Water Blues")
    data = lesson_pdf([sheet_of()], title="Week 3", reading=analyse(form))
    text = " ".join(" ".join(p.extract_text() for p in PdfReader(io.BytesIO(data)).pages).split())
    assert text.index("The changes: Low Water Blues") < text.index("1. Root-up chord tones")
    assert "First scale" in text
    assert "Mixolydian" in text


def test_a_beginners_table_has_no_hard_names():
    """Never Cb, Fb, E# or B# in beginner material: the plainer name stands for the tone."""
    reading = analyse(form_of([("Db7", 4), ("Gb7", 4), ("Db7", 4), ("Ab7", 4)], Key.parse("Db")))
    usual = scale_lines(reading, hand_for("flute", reading.key))
    assert usual[0].tones == "D♭ F A♭ C♭"
    plain = written_hand(instrument("flute"), reading, "easy")
    beginner = scale_lines(reading, plain)
    assert beginner[0].tones == "D♭ F A♭ B"
    for line in beginner:
        names = f"{line.tones} {line.scale_tones}".split()
        assert not {"C♭", "F♭", "E♯", "B♯"} & set(names)


def test_a_diminished_chord_is_named_without_double_flats():
    reading = analyse(form_of([("Cdim7", 4), ("Dm7", 4), ("G7", 4), ("C", 4)], Key.parse("C")))
    assert scale_lines(reading, hand_for("flute", reading.key))[0].tones == "C E♭ G♭ A"


def test_keys_and_scales_are_named_in_the_language_of_the_page():
    reading = analyse(form_of([("Dm7", 4), ("G7", 4), ("Cmaj7", 4), ("Cmaj7", 4)], Key.parse("C")))
    hand = hand_for("flute", reading.key)
    for code, key, scale in (("en", "C major", "D Dorian"), ("de", "C-Dur", "D dorisch")):
        ((picture, _),) = reading_rows(reading, hand, look_of("plain"), in_language=code)
        assert said(picture, "key") == [key]
        assert scale_lines(reading, hand, in_language=code)[0].scale == scale
