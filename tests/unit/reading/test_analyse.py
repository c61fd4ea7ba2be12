"""Forms that every teacher reads alike. Source: common practice, no source; facts K071 to K073."""

import pytest

from changewright.chart.model import Form, form_of
from changewright.reading.analyse import analyse


def form(text: str) -> Form:
    bars = [bar.split() for bar in text.split("|")]
    return form_of([(symbol, 4 // len(bar)) for bar in bars for symbol in bar])


def said(text: str) -> list[str]:
    return [f"{c.key} {c.numeral} {c.function}" for c in analyse(form(text)).changes]


def test_three_chord_blues_is_home_four_and_five() -> None:
    reading = analyse(form("F7|F7|F7|F7|Bb7|Bb7|F7|F7|C7|Bb7|F7|C7"))
    assert str(reading.key) == "F"
    assert " ".join(c.numeral for c in reading.changes) == (
        "I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 V7"
    )
    assert {str(c.scales[0].scale) for c in reading.changes} == {
        "F Mixolydian",
        "Bb Mixolydian",
        "C Mixolydian",
    }
    assert reading.changes[0].scales[0].because == (
        "F Mixolydian: this F7 is home in the blues; the 4th, Bb, passes but is not held"
    )


def test_jazz_blues_is_in_its_own_key() -> None:
    text = "F7|Bb7|F7|Cm7 F7|Bb7|B°7|F7|D7(b9)|Gm7|C7|F7 D7(b9)|Gm7 C7"
    reading = analyse(form(text))
    assert str(reading.key) == "F"
    assert [c.numeral for c in reading.changes[-8:]] == [
        "I7",
        "VI7(b9)",
        "iim7",
        "V7",
        "I7",
        "VI7(b9)",
        "iim7",
        "V7",
    ]


@pytest.mark.parametrize(
    ("text", "key"),
    [("Dm7|G7|Cmaj7", "C"), ("Cm7|F7|Bbmaj7", "Bb"), ("Ebm7|Ab7|Dbmaj7", "Db")],
)
def test_two_five_one(text: str, key: str) -> None:
    assert said(text) == [f"{key} iim7 D", f"{key} V7 D", f"{key} Imaj7 T"]
