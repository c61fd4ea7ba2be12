import json
from fractions import Fraction
from typing import get_args

import pytest

from changewright.chart.model import form_of
from changewright.errors import LessonError
from changewright.music.document import (
    promise_document,
    promise_from,
    sheet_document,
    sheet_from,
)
from changewright.music.line import Line, Note, Role
from changewright.music.promise import Holds, Lands, Promise, Rests, Stays, Steps
from changewright.music.sheet import Recipe, Sheet
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Pitch


def _sheet() -> Sheet:
    form = form_of([("F7", 4), ("Bb7", 2), ("N.C.", 1), ("F7", 1)], Key.parse("F"))
    third = Note(Fraction(0), Fraction(3, 2), Pitch.parse("A3"), Role.GUIDE_TONE, Degree(3))
    outside = Note(Fraction(13, 3), Fraction(1, 3), Pitch.parse("G#3"), Role.APPROACH, None, True)
    return Sheet(
        Recipe("00ff", "guide-tones", 1, "F", "tenor saxophone", 7),
        "A title",
        "Play.",
        Key.parse("F"),
        instrument("tenor saxophone"),
        form.bars,
        Line((third, outside), form.length),
        (
            Lands(Fraction(0), (Degree(3), Degree(7, -1))),
            Steps(Fraction(4), 2),
            Stays(Fraction(0), Fraction(4), (Degree(1),)),
            Holds(Fraction(0), Fraction(1, 2)),
            Rests(Fraction(6), Fraction(8)),
        ),
        84,
    )


def test_a_sheet_survives_json() -> None:
    sheet = _sheet()
    assert sheet_from(json.loads(json.dumps(sheet_document(sheet)))) == sheet


def test_every_kind_of_promise_can_be_read_back() -> None:
    for promise in _sheet().promises:
        assert promise_from(json.loads(json.dumps(promise_document(promise)))) == promise


def test_the_kinds_are_named() -> None:
    assert {"Lands", "Steps", "Stays", "Holds", "Rests"} <= {k.__name__ for k in get_args(Promise)}


@pytest.mark.parametrize("lost", ["recipe", "bars", "notes", "promises", "key"])
def test_a_broken_document_says_so(lost: str) -> None:
    document = sheet_document(_sheet())
    del document[lost]
    with pytest.raises(LessonError, match="not an exercise"):
        sheet_from(document)


def test_a_document_of_nonsense_says_so() -> None:
    document = sheet_document(_sheet())
    document["notes"] = [{"onset": "1/0"}]
    with pytest.raises(LessonError):
        sheet_from(document)
