import io
from functools import cache

import pytest
from fontTools.ttLib import TTFont

from changewright.page.look import Face, font_bytes, look_of
from changewright.page.symbol import figure_text, symbol_runs, symbol_width, symbol_words
from changewright.theory.pitch import Degree, Name
from changewright.theory.quality import qualities
from changewright.theory.symbols import STYLES, Style, read_symbol


def parts(symbol: str, hand: bool = False) -> list[str]:
    return [run.text for run in symbol_runs(read_symbol(symbol), hand)]


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("C7", ["C", "7"]),
        ("Bb7", ["B", "♭", "7"]),
        ("F#m7(b5)", ["F", "♯", "m", "7(♭5)"]),
        ("Ebmaj7", ["E", "♭", "maj7"]),
        ("Cm(maj7)", ["C", "m", "(maj7)"]),
        ("G7/B", ["G", "7", "/", "B"]),
        ("N.C.", ["N.C."]),
        ("C°7", ["C", "°7"]),
    ],
)
def test_a_symbol_is_set_root_quality_bass(symbol, expected):
    assert parts(symbol) == expected


def test_qualities_are_raised_and_root_accidentals_are_not_mistaken_for_them():
    root, flat, quality = symbol_runs(read_symbol("Bb7"))
    assert quality.rise > 2 * flat.rise
    assert quality.scale < flat.scale < root.scale


def test_the_handwritten_face_has_no_degree_sign_and_does_without():
    assert parts("C°7", hand=True) == ["C", "dim7"]


def test_longer_symbols_take_more_room():
    look = look_of("plain")
    widths = [symbol_width(read_symbol(s), look, 3) for s in ("C", "C7", "Cm7", "Dbmaj7(#11)")]
    assert widths == sorted(widths)


@pytest.mark.parametrize(
    ("symbol", "words"),
    [
        ("Bb7", "B flat 7"),
        ("Cm7(b5)", "C minor 7 flat 5"),
        ("F#maj7", "F sharp major 7"),
        ("G7/B", "G 7 over B"),
        ("N.C.", "no chord"),
    ],
)
def test_symbols_are_spoken_for_screen_readers(symbol, words):
    assert symbol_words(read_symbol(symbol)) == words


def test_figures_have_true_accidentals():
    assert [figure_text(Degree.parse(t)) for t in ("1", "b7", "#11", "bb7")] == [
        "1",
        "♭7",
        "♯11",
        "♭♭7",
    ]


def styled(symbol: str, style: Style, hand: bool = False) -> list[str]:
    return [run.text for run in symbol_runs(read_symbol(symbol), hand, style)]


@pytest.mark.parametrize(
    ("symbol", "symbolic", "plain"),
    [
        ("Cm7", ["C", "−", "7"], ["C", "mi", "7"]),
        ("Ebmaj7", ["E", "♭", "Δ7"], ["E", "♭", "ma7"]),
        ("Bbm7(b5)", ["B", "♭", "ø7"], ["B", "♭", "mi", "7(♭5)"]),
        ("C°7", ["C", "°7"], ["C", "dim7"]),
        ("C+", ["C", "+"], ["C", "aug"]),
        ("Cm(maj7)", ["C", "−", "Δ7"], ["C", "mi", "(ma7)"]),
        ("G7/B", ["G", "7", "/", "B"], ["G", "7", "/", "B"]),
    ],
)
def test_a_symbol_is_set_in_three_styles(symbol, symbolic, plain):
    assert styled(symbol, "symbolic") == symbolic
    assert styled(symbol, "plain") == plain
    assert styled(symbol, "abbreviated") == parts(symbol)


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("hand", [False, True])
@pytest.mark.parametrize("quality", sorted(qualities()))
def test_no_style_has_a_sign_that_its_face_lacks(style, hand, quality):
    """Checked against the fonts' own character maps."""
    own: Face = "petalumascript" if hand else "edwin-roman"
    for run in symbol_runs(qualities()[quality].on(Name.parse("Bb")), hand, style):
        assert {ord(c) for c in run.text} <= _characters(run.face or own)


@cache
def _characters(face: Face) -> set[int]:
    return set(TTFont(io.BytesIO(font_bytes(face))).getBestCmap())
