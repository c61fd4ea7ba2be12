"""Orders of keys and the exercises that follow from a plan."""

import pytest

from changewright.chart.shelf import shelf_chart
from changewright.page.book_style import BookStyle
from changewright.theory.pitch import Name
from changewright.usecases.book_editions import edition
from changewright.usecases.book_plan import BookPlan, Entry, key_on, keys_in_order


def test_the_cycle_of_fourths():
    # Common practice, no source: the order in which players practise keys.
    told = [str(n) for n in keys_in_order("fourths", Name.parse("C"))]
    assert told == ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"]


def test_the_chromatic_order():
    told = [str(n) for n in keys_in_order("chromatic", Name.parse("G"))]
    assert told == ["G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "Gb"]


@pytest.mark.parametrize("order", ["fourths", "chromatic"])
@pytest.mark.parametrize("first", ["C", "F#", "Eb", "Db", "B"])
def test_every_order_has_twelve_keys_from_the_first(order, first):
    names = keys_in_order(order, Name.parse(first))
    assert str(names[0]) == first
    assert {n.pc for n in names} == set(range(12))


def test_a_chart_in_minor_stays_in_minor():
    minor = next(c for c in map(shelf_chart, ("fog-at-berth-two", "engine-idling",
        "tidemark-drill", "ebbmark-drill", "chandlery-ledger", "dredger-at-dusk",
        "down-the-slip-ladder")) if c.key.mode == "minor")  # fmt: skip
    assert str(key_on(minor, Name.parse("G"))) == "Gm"
    assert str(key_on(minor, Name.parse("Db"))) == "C#m"


def test_exercises_are_numbered_through_the_chapters():
    blues = shelf_chart("quayside-blues")
    plan = BookPlan(
        title="Tides",
        author="Quayside workshop",
        entries=(
            Entry((blues,), (1, 2), ("root-up",)),
            Entry((blues,), (2,), ("guide-tones", "targets")),
        ),
        tonics=(Name.parse("F"), Name.parse("Bb")),
        editions=(edition("flute"),),
        style=BookStyle(),
    )
    pieces = list(plan.pieces())
    assert [p.number for p in pieces] == list(range(1, 9))
    assert [p.chapter for p in pieces] == [0] * 4 + [1] * 4
    assert [(p.family, p.level) for p in pieces[:4]] == [
        ("root-up", 1), ("root-up", 2), ("guide-tones", 2), ("targets", 2),
    ]  # fmt: skip
    assert plan.charts == (blues,)
    assert plan.unknown_rights == ()
