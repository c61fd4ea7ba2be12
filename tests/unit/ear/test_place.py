from dataclasses import replace
from fractions import Fraction

import pytest

from changewright.ear.place import place
from changewright.ear.take import Take
from tests.unit.ear.exercises import Slot, clock_of, exact_take, root_up, slots


@pytest.mark.parametrize("latency", [-0.05, 0.0, 0.09, 0.3])
def test_a_constant_lag_is_found_from_the_notes(latency: float) -> None:
    sheet = root_up()
    placed = place(exact_take(slots(sheet, latency)), sheet, clock_of(sheet))
    assert placed.offset_s == pytest.approx(latency, abs=0.002)
    assert placed.slips == ()
    assert (placed.first_bar, placed.last_bar) == (1, 12)


def test_a_recording_that_starts_seconds_late_is_still_laid_where_it_belongs() -> None:
    sheet = root_up()
    placed = place(exact_take(slots(sheet, 9.3)), sheet, clock_of(sheet))
    assert placed.offset_s == pytest.approx(9.3, abs=0.002)


def test_a_known_latency_keeps_the_search_near_it() -> None:
    sheet = root_up()
    placed = place(exact_take(slots(sheet, 0.16)), sheet, clock_of(sheet), latency_s=0.12)
    assert placed.from_count_in == 0.12
    assert placed.offset_s == pytest.approx(0.16, abs=0.002)


def moved(played: list[Slot], sheet_bar: int, beats: int, beat_s: float) -> list[Slot]:
    """From a bar on, the same line so many beats early (ahead) or late."""
    start = Fraction(4 * (sheet_bar - 1))
    kept = [s for s in played if s.at < start]
    later = [s for s in played if s.at >= start + max(0, beats)]
    return kept + [replace(s, onset_s=s.onset_s - beats * beat_s) for s in later]


@pytest.mark.parametrize(
    ("bar", "beats", "told"), [(5, 4, 6), (5, -4, 7), (9, 4, 9), (7, 4, 8), (9, -4, 10), (5, 1, 5)]
)
def test_a_lost_bar_is_told_with_its_place_and_size(bar: int, beats: int, told: int) -> None:
    """Where the chord stays for two bars, being a bar away shows only when it should move; who
    falls a bar behind rests for one first."""
    sheet = root_up()
    beat = clock_of(sheet).quarter_s
    placed = place(exact_take(moved(slots(sheet), bar, beats, beat)), sheet, clock_of(sheet))
    slip = placed.slips[0]
    assert slip.beats == beats
    assert slip.bar == told


def test_starting_late_and_stopping_early_are_told() -> None:
    sheet = root_up()
    placed = place(exact_take(slots(sheet)[8:36]), sheet, clock_of(sheet))
    assert (placed.first_bar, placed.last_bar) == (3, 9)
    assert placed.slips == ()


def test_silence_lies_nowhere() -> None:
    sheet = root_up()
    placed = place(Take((), 30.0), sheet, clock_of(sheet))
    assert placed.first_bar is None
    assert placed.support == 0


@pytest.mark.parametrize("run", [-0.025, -0.02, 0.02, 0.025])
def test_who_runs_away_or_drags_by_a_beat_has_not_lost_one(run: float) -> None:
    sheet = root_up(bpm=160)
    played = [replace(s, onset_s=s.onset_s * (1 + run)) for s in slots(sheet)]
    assert place(exact_take(played), sheet, clock_of(sheet)).slips == ()


def test_a_beat_lost_all_at_once_is_told_also_of_who_drags_a_little() -> None:
    sheet = root_up()
    shifted = moved(slots(sheet), 5, -4, 60 / sheet.tempo_bpm)
    played = [replace(s, onset_s=s.onset_s * 1.004) for s in shifted]
    (slip,) = place(exact_take(played), sheet, clock_of(sheet)).slips
    assert slip.beats == -4
