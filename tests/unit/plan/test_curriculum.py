from itertools import pairwise

import pytest

from changewright.chart.shelf import shelf_chart
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError, UnknownName
from changewright.lesson.compose import compose
from changewright.lesson.family import families
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.plan.curriculum import KEY_ORDERS, goal_bpm, key_order, keys_for, rungs, strands
from changewright.plan.skill import passages_of, progression_of, progressions
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from changewright.theory.key import Key


@pytest.mark.parametrize("name", KEY_ORDERS)
@pytest.mark.parametrize("home", ["F", "C", "Bb", "Gb", "B"])
def test_an_order_of_keys_has_all_twelve_once_from_home(name: str, home: str) -> None:
    order = key_order(name, home)
    assert sorted(Key.parse(k).tonic.pc for k in order) == list(range(12))
    assert order[0] == home


def test_the_named_orders_are_as_the_trade_has_them() -> None:
    """Source: domain reference 5.1, key orders."""
    assert " ".join(key_order("horns")) == "F Bb Eb Ab C Db G Gb D A B E"
    assert " ".join(key_order("strings", "C")) == "C G F D A Bb E Eb Ab B Db Gb"
    assert key_order("fourths", "C")[:4] == ("C", "F", "Bb", "Eb")
    assert key_order("major-thirds", "C")[:3] == ("C", "E", "Ab")
    assert [Key.parse(k).tonic.pc for k in key_order("chromatic", "C")] == list(range(12))


def test_an_unknown_order_is_told_with_those_we_have() -> None:
    with pytest.raises(UnknownName, match="horns"):
        key_order("zigzag")


def test_the_levels_keys_come_first_and_minor_things_in_minor() -> None:
    order = key_order("horns")
    for number in range(1, 9):
        for strand in strands(number):
            keys = keys_for(strand, order)
            assert len(set(keys)) == 12
            assert all(abs(Key.parse(k).signature) <= 6 for k in keys)
            minor = progressions()[strand.progression].mode == "minor"
            assert {Key.parse(k).mode for k in keys} == {"minor" if minor else "major"}
            first = {Key.parse(k).tonic.pc for k in level(number).keys}
            assert {Key.parse(k).tonic.pc for k in keys[: len(first)]} == first


def test_tempo_ladders_rise_in_small_steps_to_the_goal() -> None:
    """Source: domain reference 10.2: tempo rises in small steps."""
    for goal in range(60, 301):
        ladder = rungs(goal)
        assert ladder[-1] == goal
        assert list(ladder) == sorted(set(ladder))
        assert all(b / a < 1.13 for a, b in pairwise(ladder))
        assert 0.7 <= ladder[0] / goal <= 0.8


def test_every_family_has_its_place() -> None:
    placed = {strand.family for number in range(1, 9) for strand in strands(number)}
    assert placed == {f.id for f in families().values() if not (f.wants_melody or f.checks)}


def test_no_strand_comes_before_its_family() -> None:
    for number in range(1, 9):
        for strand in strands(number):
            assert families()[strand.family].since <= number
            assert progressions()[strand.progression].since <= number


@pytest.mark.parametrize("kind", list(progressions()))
def test_a_progressions_own_chart_is_read_as_that_progression(kind: str) -> None:
    chart = shelf_chart(progressions()[kind].chart)
    for key in ("C", "Gb") if progressions()[kind].mode == "major" else ("Cm", "F#m"):
        reading = analyse(unroll(transpose_chart(chart, Key.parse(key))))
        assert progression_of(reading) == kind


def test_the_cadences_inside_a_tune_are_found_with_their_keys() -> None:
    reading = analyse(unroll(shelf_chart("rope-locker")))
    found = {(name, str(key)) for name, key, _ in passages_of(reading)}
    assert found == {("two-five-one", "C"), ("two-five-one", "Bb")}


@pytest.mark.parametrize("number", range(1, 9))
@pytest.mark.parametrize("name", ["clarinet", "trombone", "guitar"])
def test_every_strand_can_be_composed_on_its_chart(number: int, name: str) -> None:
    for strand in strands(number):
        reading = analyse(unroll(shelf_chart(progressions()[strand.progression].chart)))
        try:
            sheet = compose(
                reading,
                Player(instrument(name)),
                level(number),
                strand.family,
                1,
                tempo_bpm=goal_bpm(strand),
                relax=True,
            )
        except InputError as fault:
            pytest.fail(f"{strand.words}: {fault}")
        assert sheet.line.notes
