"""The scheduler is the library fsrs; here its door is held against the library itself."""

from datetime import UTC, date, datetime, timedelta

import pytest
from fsrs import Card, Rating, Scheduler

from changewright.plan.evidence import Grade
from changewright.plan.memory import remember

START = date(2026, 3, 2)


def test_nothing_played_is_nothing_remembered() -> None:
    assert remember([]) is None


def test_the_door_says_what_the_library_says() -> None:
    """Oracle: fsrs called plainly, with the same settings."""
    grades = (Grade.SHAKY, Grade.MET, Grade.LOST, Grade.MET, Grade.EASY)
    days = [START + timedelta(days=n) for n in (0, 2, 9, 11, 20)]
    plain = Scheduler(
        desired_retention=0.85,
        learning_steps=(),
        relearning_steps=(),
        maximum_interval=90,
        enable_fuzzing=False,
    )
    card = Card(card_id=1)
    for day, grade in zip(days, grades, strict=True):
        noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
        card, _ = plain.review_card(card, Rating(int(grade)), noon)
    memory = remember(list(zip(days, grades, strict=True)))
    assert memory is not None
    assert memory.due == card.due.date()
    assert memory.stability_days == pytest.approx(card.stability)
    later = datetime(2026, 5, 1, 12, tzinfo=UTC)
    assert memory.chance(later.date()) == pytest.approx(plain.get_card_retrievability(card, later))


def test_the_order_of_telling_does_not_matter() -> None:
    reviews = [(START, Grade.MET), (START + timedelta(days=5), Grade.SHAKY)]
    assert remember(reviews) == remember(reviews[::-1])


def test_the_chance_falls_with_the_days_and_starts_whole() -> None:
    memory = remember([(START, Grade.MET)])
    assert memory is not None
    chances = [memory.chance(START + timedelta(days=n)) for n in range(0, 120, 10)]
    assert chances[0] == 1
    assert chances == sorted(chances, reverse=True)


def test_better_takes_stay_longer() -> None:
    dues = [remember([(START, grade)]) for grade in Grade]
    found = [memory.due for memory in dues if memory]
    assert found == sorted(found)
    assert len(set(found)) == 4


def test_spaced_takes_keep_longer_than_massed_ones() -> None:
    """Source: the spacing effect, Cepeda et al., Psychological Bulletin 132 (2006)."""
    massed = remember([(START + timedelta(days=n), Grade.MET) for n in (18, 19, 20)])
    spaced = remember([(START + timedelta(days=n), Grade.MET) for n in (0, 7, 20)])
    assert massed is not None
    assert spaced is not None
    assert spaced.stability_days > massed.stability_days


def test_nothing_stays_away_for_more_than_a_term() -> None:
    days, reviews = START, []
    for _ in range(12):
        reviews.append((days, Grade.EASY))
        memory = remember(reviews)
        assert memory is not None
        assert (memory.due - days).days <= 90
        days = memory.due
