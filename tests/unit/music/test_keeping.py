"""The examiner: a planted fault of every kind is found, and a kept promise is not blamed."""

from dataclasses import replace
from fractions import Fraction

import pytest

from changewright.chart.model import form_of
from changewright.music.keeping import broken
from changewright.music.line import Line, Note
from changewright.music.promise import (
    Approached,
    Avoids,
    Climbs,
    Echoes,
    Holds,
    Keeps,
    Lands,
    Leaps,
    Quotes,
    Rests,
    Stays,
    Steps,
    Within,
)
from changewright.music.sheet import Recipe, Sheet
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Pitch

BARS = form_of([("F7", 4), ("Bb7", 4)]).bars
Q = Fraction


def notes(text: str) -> tuple[Note, ...]:
    """``A3/b3`` is an A of one quarter that claims to be the b3; ``-`` rests a quarter."""
    found = []
    for at, word in enumerate(text.split()):
        if word != "-":
            name, _, degree = word.partition("/")
            claim = Degree.parse(degree) if degree else None
            found.append(Note(Q(at), Q(1), Pitch.parse(name), degree=claim))
    return tuple(found)


def sheet(text: str, *promises) -> Sheet:
    return Sheet(
        recipe=Recipe("", "root-up", 1, "F", "tenor saxophone", 1),
        title="",
        instruction="",
        key=Key.parse("F"),
        instrument=instrument("tenor saxophone"),
        bars=BARS,
        line=Line(notes(text), Q(8)),
        promises=promises,
        tempo_bpm=80,
    )


GOOD = "F3/1 A3/3 C4/5 Eb4/b7 D4/3 F4/5 - Bb3/1"
THIRD = (Degree(3),)

KEPT = [
    Lands(Q(4), THIRD),
    Steps(Q(4), 1),
    Stays(Q(0), Q(4), tuple(map(Degree.parse, ("1", "3", "5", "b7")))),
    Holds(Q(0), Q(1)),
    Rests(Q(6), Q(7)),
    Within(Q(0), Q(8), Pitch.parse("F3"), Pitch.parse("F4")),
    Leaps(Q(0), Q(8), 7),
    Avoids(Q(0), Q(8), (Pitch.parse("E4"),)),
    Climbs(Q(0), Q(4)),
    Keeps(Q(4), Q(8), (Q(4), Q(5), Q(7))),
    Approached(Q(4), (-2, 1)),
    Quotes(Q(0), (Q(0), Q(1), Q(2)), (0, 4, 7)),
    Echoes(Q(1), Q(0), 3),  # up and up; the last move may go either way
    Echoes(Q(4), Q(3), 2),
    Echoes(Q(3), Q(2), 3),  # down and up against up and down
]
BROKEN = [
    (Lands(Q(5), THIRD), 5),
    (Lands(Q(6), THIRD), 6),
    (Steps(Q(5), 2), 5),
    (Steps(Q(0), 2), 0),
    (Stays(Q(0), Q(8), THIRD), 0),
    (Holds(Q(0), Q(2)), 0),
    (Holds(Q(6), Q(1)), 6),
    (Rests(Q(5), Q(6)), 5),
    (Within(Q(0), Q(8), Pitch.parse("G3"), Pitch.parse("F4")), 0),
    (Within(Q(0), Q(8), Pitch.parse("F3"), Pitch.parse("E4")), 5),
    (Leaps(Q(0), Q(8), 6), 7),
    (Avoids(Q(0), Q(8), (Pitch.parse("D#4"),)), 3),
    (Climbs(Q(0), Q(5)), 4),
    (Climbs(Q(0), Q(2), up=False), 1),
    (Keeps(Q(4), Q(8), (Q(4), Q(5))), 7),
    (Keeps(Q(4), Q(8), (Q(4), Q(5), Q(6), Q(7))), 6),
    (Approached(Q(4), (1,)), None),
    (Approached(Q(4), (-1,)), 4),
    (Approached(Q(7), (7,)), 7),
    (Quotes(Q(0), (Q(0), Q(1), Q(2)), (0, 4, 8)), 0),
    (Quotes(Q(0), (Q(0), Q(2)), (0, 7)), 0),
    (Echoes(Q(3), Q(0), 4), 3),  # the fourth comes a quarter late
    (Echoes(Q(2), Q(0), 4), 2),  # up, down, up for up, up, up
    (Echoes(Q(6), Q(0), 2), 6),
    (Echoes(Q(0), Q(6), 2), 0),
]


@pytest.mark.parametrize("promise", KEPT, ids=repr)
def test_a_kept_promise_is_not_blamed(promise):
    assert broken(sheet(GOOD, promise)) == ()


@pytest.mark.parametrize(("promise", "quarter"), BROKEN, ids=repr)
def test_a_broken_promise_is_found_where_it_breaks(promise, quarter):
    faults = broken(sheet(GOOD, promise))
    if quarter is None:
        assert faults == ()
        return
    assert faults[0].promise == promise
    assert (faults[0].bar, faults[0].beat) == (quarter // 4 + 1, str(quarter % 4 + 1))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("F3/1 A3/b3 - - - - - -", "is not the b3"),
        ("F2 - - - - - - -", "can't be played"),
        ("A#3 Bb3 - - - - - -", "written both"),
    ],
)
def test_rules_of_every_sheet(text, said):
    faults = broken(sheet(text))
    assert any(said in str(f) for f in faults)


def test_an_anticipation_belongs_to_the_chord_to_come():
    early = Note(Q(7, 2), Q(3, 2), Pitch.parse("D4"), degree=Degree(3))
    good = sheet("F3/1 - - - - - - -")
    early_sheet = replace(good, line=Line((*good.line.notes, early), Q(8)))
    assert broken(early_sheet) == ()
    late = replace(early, duration=Q(1, 2))
    assert "is not the 3" in str(broken(replace(good, line=Line((late,), Q(8))))[0])
