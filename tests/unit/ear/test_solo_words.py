"""An open solo in words: bands by level, roles of notes outside, planned phrases."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from changewright.ear._solo_habits import measures as habits
from changewright.ear._solo_notes import laid_out
from changewright.ear._solo_roles import Leading, phrase_measures, roles
from changewright.ear._solo_words import Band, band_of, said_of
from changewright.ear.measure import Measure
from changewright.ear.solo import study_solo
from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.music.promise import Quotes
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from tests.unit.ear.exercises import blues

CLOCK = Clock(120, 1.0)


def measure(name: str, value: float, count: int = 40, record: object = None) -> Measure:
    return Measure(name, name, value, "share", count, 0.33, record)  # type: ignore[arg-type]


RECORD = {"J1": (0.41, 0.53, 0.67), "J4": (0.38, 0.53, 0.67), "J6": (0.46, 0.62, 0.76),
          "J12r": (0.24, 0.33, 0.43)}  # fmt: skip


@pytest.mark.parametrize("level", [5, 6, 7, 8])
@pytest.mark.parametrize("name", sorted(RECORD))
def test_nothing_inside_the_record_is_weak_from_level_5(name: str, level: int) -> None:
    """Source: domain reference 8.3."""
    low, _, high = RECORD[name]
    for step in range(11):
        value = low + (high - low) * step / 10
        band = band_of(measure(name, value, record=RECORD[name]), level)
        assert band is (Band.THERE if level < 7 else Band.SHOWN)


@pytest.mark.parametrize(
    ("name", "value", "level", "band"),
    [
        ("J1", 0.61, 1, Band.THERE),
        ("J1", 0.55, 2, Band.ON_THE_WAY),
        ("J1", 0.20, 2, Band.NEXT),
        ("J4", 0.51, 3, Band.THERE),
        ("J6", 0.45, 4, Band.ON_THE_WAY),
        ("J12r", 0.10, 3, Band.NEXT),
        ("J10s", 90.0, 1, Band.ON_THE_WAY),
        ("J10s", 55.0, 4, Band.THERE),
        ("J1", 0.95, 6, Band.THERE),
        ("J2", 0.05, 1, Band.SHOWN),
    ],
)
def test_bands_are_those_of_the_level(name: str, value: float, level: int, band: Band) -> None:
    """Source: domain reference 8.3, the table of bands."""
    assert band_of(measure(name, value, record=RECORD.get(name)), level) is band


def test_few_cases_say_nothing() -> None:
    assert band_of(measure("J1", 0.0, count=7), 1) is Band.SHOWN


def test_one_of_each_is_said_and_no_share_of_a_hundred() -> None:
    solo = [measure("J1", 0.7), measure("J4", 0.2), measure("J12r", 0.05), measure("J13", 0.8)]
    worked, change, following = said_of(solo, 2)
    assert worked.startswith("Beats 1 and 3 tell the chord: 28 of 40")
    assert change.startswith("8 of 40 changes")
    assert "'and' of 4" in following
    assert "%" not in worked + change + following


@pytest.mark.parametrize("level", [7, 8])
def test_at_the_last_levels_nothing_is_corrected(level: int) -> None:
    assert said_of([measure("J1", 0.0), measure("J4", 0.0)], level)[1] == ""


def _line(*played: tuple[float, int]) -> Take:
    """Notes at quarters from bar 1, each up to the next."""
    ends = [at for at, _ in played[1:]] + [played[-1][0] + 1]
    return Take(
        tuple(
            HeardNote(CLOCK.to_seconds(Fraction(at)), CLOCK.to_seconds(Fraction(end)), m, 0, -20, 1)
            for (at, m), end in zip(played, ends, strict=True)
        ),
        40.0,
    )


def _roles(*played: tuple[float, int]) -> list[Leading]:
    return [role for _, role in roles(laid_out(_line(*played), analyse(blues()), CLOCK, 0.0))]


def test_notes_outside_are_told_by_where_they_lead() -> None:
    """Over F7: G sharp up to A approaches the third; B and G sharp enclose A; F sharp that goes to
    B flat, no chord tone of F7, hangs. Source: common practice, no source."""
    assert _roles((0, 65), (1, 68), (1.5, 69), (2, 72)) == [Leading.APPROACH]
    assert _roles((0, 72), (1, 71), (1.5, 68), (2, 69)) == [Leading.ENCLOSURE, Leading.APPROACH]
    assert _roles((0, 65), (1, 66), (2, 70)) == [Leading.HANGING]
    assert _roles((0, 65), (1, 69), (2, 72)) == []


PHRASE = Quotes(
    Fraction(4), (Fraction(0), Fraction(1, 2), Fraction(1), Fraction(3, 2)), (0, 4, 7, 5)
)


@pytest.mark.parametrize(
    ("played", "found"),
    [
        (((4, 65), (4.5, 69), (5, 72), (5.5, 70)), 1),
        (((4.5, 65), (5.5, 69), (6.25, 72), (6.5, 70)), 1),  # later, slower, uneven
        (((3, 60), (4, 65), (4.5, 69), (4.75, 71), (5, 72), (5.5, 70)), 1),  # a note slipped in
        (((4, 65), (4.5, 68), (5, 72), (5.5, 70)), 0),  # another third
        (((20, 65), (20.5, 69), (21, 72), (21.5, 70)), 0),  # somewhere else
    ],
)
def test_a_planned_phrase_is_found_though_its_rhythm_bends(
    played: tuple[tuple[float, int], ...], found: int
) -> None:
    notes = laid_out(_line(*played), analyse(blues()), CLOCK, 0.0)
    (told,) = phrase_measures(notes, (PHRASE,))
    assert (told.id, told.value, told.count) == ("J18", found, 1)


def _figures(times: int) -> Take:
    """F G A C in every other bar, between two lone notes that differ."""
    notes: list[tuple[float, int]] = []
    for k in range(times):
        start = 8 * k
        notes += [(start + n / 2, midi) for n, midi in enumerate((65, 67, 69, 72))]
        notes += [(start + 4, 60 + (5 * k) % 12), (start + 5.5, 71 - (3 * k) % 7)]
    return _line(*notes)


def test_a_figure_that_keeps_coming_is_told_with_its_notes_and_bars() -> None:
    notes = laid_out(_figures(5), analyse(blues()), CLOCK, 0.0)
    (told,) = habits(notes, analyse(blues()), instrument("alto saxophone"))
    assert told.detail == "first D E F# A, 5 times, from bars 1, 3, 5, 7, 9"
    assert told.chance is not None
    assert told.value > 4 * told.chance
    worked, change, following = said_of([replace(told, count=40, value=5 / 40, chance=0.01)], 4)
    assert (worked, change) == ("", "")
    assert following.startswith("One figure comes 5 times (first D E F# A).")


def test_what_comes_twice_is_no_habit_and_neither_is_one_note_again_and_again() -> None:
    reading = analyse(blues())
    assert habits(laid_out(_figures(2), reading, CLOCK, 0.0), reading, None) == []
    drum = _line(*((k / 2, 65) for k in range(40)))
    assert habits(laid_out(drum, reading, CLOCK, 0.0), reading, None) == []


def test_notes_drawn_at_random_have_their_figures_about_as_often_as_chance_says() -> None:
    """An outside check of the stated chance: 4,000 steps drawn evenly of seven."""
    rng = np.random.default_rng(5)
    line = 72 + np.cumsum(rng.integers(-3, 4, 4_000))
    take = _line(*((k / 2, int(m) % 60 + 30) for k, m in enumerate(line)))
    (told,) = habits(laid_out(take, analyse(blues()), CLOCK, 0.0), analyse(blues()), None)
    assert told.chance is not None
    assert told.value < 3.5 * told.chance


def test_the_steps_into_the_changes_are_counted_by_size() -> None:
    """Over F7, Bb7, F7: A to Bb is a semitone, D to Eb... the numbers are counted by hand."""
    take = _line((15, 69), (16, 70), (23, 74), (24, 72), (32, 72), (36, 77))
    measure = study_solo(take, analyse(blues()), CLOCK).measure("J6")
    assert measure is not None
    assert measure.detail == (
        "1 by a semitone, 1 by a whole step, 1 by the same note, 1 by a wider leap"
    )


def test_without_a_plan_no_phrase_is_missed() -> None:
    assert phrase_measures([], ()) == []
