from dataclasses import replace
from fractions import Fraction

from changewright.music.promise import Approached, Holds, Lands, Leaps, Rests, Stays, Steps
from changewright.page.listening import listening_clauses
from changewright.theory.pitch import Degree
from tests.unit.page.sheets import sheet_of

ONE, THREE, FIVE, SEVEN = Degree(1), Degree(3), Degree(5), Degree(7, -1)
SHEET = sheet_of()
STARTS = [bar.start for bar in SHEET.bars]


def heard(*promises):
    return listening_clauses(replace(SHEET, promises=tuple(promises)))


def test_landings_are_gathered_over_the_bars():
    assert heard(*(Lands(at, (ONE,)) for at in STARTS)) == [("land on 1", "throughout")]
    assert heard(*(Lands(at, (THREE, SEVEN)) for at in STARTS[2:5])) == [
        ("land on 3 or ♭7", "bars 3–5")
    ]
    assert heard(Lands(STARTS[6], (ONE,))) == [("land on 1", "bar 7")]


def test_a_landing_on_anything_is_nothing_to_listen_for():
    assert heard(Lands(STARTS[0], (ONE, THREE, FIVE, SEVEN))) == []


def test_the_commonest_comes_first_and_four_are_enough():
    clauses = heard(
        Lands(STARTS[0], (ONE,)),
        *(Steps(at) for at in STARTS[1:]),
        Holds(STARTS[3], Fraction(2)),
        Rests(STARTS[4], STARTS[5]),
        Approached(STARTS[6], (-1,)),
    )
    assert clauses[0] == ("move in by a step at most", "bars 2–12")
    assert len(clauses) == 4


def test_chord_tones_and_scales_are_called_so():
    whole = (STARTS[0], SHEET.length)
    assert heard(Stays(*whole, (ONE, THREE, FIVE, SEVEN)))[0] == (
        "play only chord tones",
        "throughout",
    )
    scale = (*(Degree(n) for n in range(1, 7)), SEVEN)
    assert heard(Stays(*whole, scale))[0][0] == "stay in the chord's scale"


def test_house_rules_are_not_said():
    assert heard(Leaps(STARTS[0], SHEET.length, 7), Steps(STARTS[1], 7)) == []


def test_scattered_bars_are_counted():
    clauses = heard(*(Rests(at, at + 1) for at in STARTS[::2]), Rests(STARTS[1], STARTS[2]))
    assert clauses == [("rest", "bars 1–3, 5, 7, 9, 11")]
