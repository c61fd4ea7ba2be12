from datetime import UTC, date, datetime

import pytest

from changewright.plan.evidence import Grade
from changewright.plan.progress import Mark, Progress, Stand
from tests.unit.plan.students import FIRST, GOAL, SECOND, heard

MONDAY, WEDNESDAY = date(2026, 3, 2), date(2026, 3, 4)
SKILL = FIRST.at("Fm", GOAL)


def test_what_was_never_tried_is_untried() -> None:
    standing = Progress(()).standing(SKILL, MONDAY)
    assert standing.stand is Stand.UNTRIED
    assert standing.takes == ()
    assert standing.because == ("no take of it yet",)


def test_two_takes_on_one_day_make_nothing_solid() -> None:
    """Source: domain reference 5.2: two takes on different days."""
    progress = Progress([heard(FIRST, "Fm", MONDAY), heard(FIRST, "Fm", MONDAY)])
    assert progress.standing(SKILL, WEDNESDAY).stand is Stand.SHAKY


def test_two_days_at_tempo_are_solid_and_say_so() -> None:
    progress = Progress([heard(FIRST, "Fm", MONDAY), heard(FIRST, "Fm", WEDNESDAY)])
    standing = progress.standing(SKILL, WEDNESDAY)
    assert standing.stand is Stand.SOLID
    assert "2 March and 4 March" in standing.because[0]
    assert "46 of 48 notes" in standing.because[-1]
    assert "95% certainty" in standing.because[-1]
    assert standing.takes == tuple(e.take for e in progress.evidence)


def test_slow_takes_pass_nothing_at_the_goal() -> None:
    slow = [heard(FIRST, "Fm", day, bpm=GOAL - 8) for day in (MONDAY, WEDNESDAY)]
    progress = Progress(slow)
    assert progress.standing(SKILL, WEDNESDAY).stand is Stand.SHAKY
    assert progress.standing(FIRST.at("Fm", GOAL - 8), WEDNESDAY).stand is Stand.SOLID


def test_a_solid_thing_is_forgotten_in_time_and_comes_back_by_playing() -> None:
    takes = [heard(FIRST, "Fm", MONDAY), heard(FIRST, "Fm", WEDNESDAY)]
    later = date(2026, 9, 1)
    standing = Progress(takes).standing(SKILL, later)
    assert standing.stand is Stand.FORGOTTEN
    assert standing.chance < 0.7
    assert "181 days ago" in standing.because[1]
    again = Progress([*takes, heard(FIRST, "Fm", later)])
    assert again.standing(SKILL, later).stand is Stand.SOLID


def test_a_missed_take_makes_a_solid_thing_shaky() -> None:
    takes = [heard(FIRST, "Fm", MONDAY), heard(FIRST, "Fm", WEDNESDAY)]
    missed = heard(FIRST, "Fm", date(2026, 3, 9), grade=Grade.SHAKY)
    standing = Progress([*takes, missed]).standing(SKILL, date(2026, 3, 9))
    assert standing.stand is Stand.SHAKY
    assert "9 March missed" in standing.because[0]


@pytest.mark.parametrize(
    ("keys", "days", "passed"),
    [
        (("Fm", "Bbm"), (MONDAY, WEDNESDAY), True),
        (("Fm", "Fm"), (MONDAY, WEDNESDAY), False),
        (("Fm", "Bbm"), (MONDAY, MONDAY), False),
    ],
)
def test_passing_takes_two_days_and_two_keys(
    keys: tuple[str, str], days: tuple[date, date], passed: bool
) -> None:
    """Source: domain reference 5.2."""
    progress = Progress(heard(FIRST, k, d) for k, d in zip(keys, days, strict=True))
    passing = progress.passing(FIRST, GOAL)
    assert passing.passed is passed
    assert ("missing" in passing.because) is not passed


def test_a_stretch_inside_a_tune_passes_nothing() -> None:
    progress = Progress(
        [heard(FIRST, "Fm", MONDAY, part=True), heard(FIRST, "Bbm", WEDNESDAY, part=True)]
    )
    assert not progress.passing(FIRST, GOAL).passed
    assert progress.keys_of(FIRST) == ()
    assert "inside a tune" in progress.standing(SKILL, WEDNESDAY).because[-1]


def at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 20, tzinfo=UTC)


@pytest.mark.parametrize("stand", list(Stand))
def test_the_teachers_mark_stands_against_any_take(stand: Stand) -> None:
    takes = [heard(FIRST, "Fm", MONDAY), heard(FIRST, "Fm", WEDNESDAY)]
    mark = Mark(FIRST, stand, at(WEDNESDAY), key="Fm", words="I heard it live")
    standing = Progress(takes, [mark]).standing(SKILL, WEDNESDAY)
    assert standing.stand is stand
    assert "I heard it live" in standing.because[0]
    if stand is not Stand.SOLID:
        assert "the takes alone say solid" in standing.because[0]


def test_a_mark_for_all_keys_passes_the_strand() -> None:
    progress = Progress((), [Mark(FIRST, Stand.SOLID, at(MONDAY))])
    assert progress.passing(FIRST, GOAL).passed
    assert not progress.passing(SECOND, GOAL).passed


def test_a_mark_at_a_tempo_covers_the_slower_ones_only() -> None:
    mark = Mark(FIRST, Stand.SOLID, at(MONDAY), key="Fm", tempo_bpm=60)
    progress = Progress((), [mark])
    assert progress.standing(FIRST.at("Fm", 56), MONDAY).stand is Stand.SOLID
    assert progress.standing(FIRST.at("Fm", 64), MONDAY).stand is Stand.UNTRIED
    assert progress.standing(FIRST.at("Bbm", 56), MONDAY).stand is Stand.UNTRIED
