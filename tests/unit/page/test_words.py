import pytest

from changewright.music.bar import FOUR_FOUR, Meter
from changewright.music.notation import notate
from changewright.page.words import describe_bars, feel_words, instrument_words, is_swung
from changewright.theory.instrument import instrument
from tests.unit.page.sheets import Q, sheet_of


@pytest.mark.parametrize(
    ("player", "words"),
    [
        ("clarinet", "clarinet in B♭"),
        ("horn", "horn in F"),
        ("tenor saxophone", "tenor saxophone"),
        ("tuba", "tuba"),
    ],
)
def test_instruments_fit_into_a_sentence(player, words):
    assert instrument_words(instrument(player)) == words


def test_feels_have_names_and_unknown_ones_are_printed_as_they_are():
    assert feel_words("swing") == "Swing"
    assert feel_words("slow-boat") == "Slow boat"


def test_eighths_swing_where_the_band_swings_and_the_beat_is_plain():
    assert is_swung("swing", FOUR_FOUR)
    assert not is_swung("even-eighths", FOUR_FOUR)
    assert not is_swung("slow-boat", FOUR_FOUR)
    assert not is_swung("swing", Meter(12, 8))


def test_bars_are_told_in_words():
    sheet = sheet_of([("Bb7", 4), ("N.C.", 4)], labels={1: "A"}, pickup=Q, blank=(1,), key="Bb")
    told = describe_bars(notate(sheet).bars)
    assert told == "Pickup: C 7; Bar 1, section A: C 7, left open; Bar 2: no chord."
