"""The scheduler of spaced repetition behind one door: grades and days in, a memory out."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

__all__ = ["chance_on", "reviewed"]

RETENTION = 0.85
"""The chance at which a thing comes back. Source: measured on the simulated students of
benchmarks/bench_plan.py (seeds 1 to 10): 0.80, 0.85 and 0.90 reach the goal in 1670, 1660 and 1660
minutes, 0.93 in 1800; the middle is taken."""
LONGEST_DAYS = 90
"""Nothing stays away longer than a term. Source: common practice, no source."""


def reviewed(reviews: Sequence[tuple[date, int]]) -> "tuple[Card, date]":
    """What the memory holds after reviews (day, grade from 1 to 4), and when it is due.

    PITFALL: without a time and an id of its own the library reads the clock and sleeps.
    """
    from fsrs import Card, Rating

    card = Card(card_id=0, due=_noon(reviews[0][0]))
    for day, grade in reviews:
        card, _ = _scheduler().review_card(card, Rating(grade), _noon(day))
    return card, card.due.date()


def chance_on(card: "Card", day: date) -> float:
    """The chance that it still goes, 0 to 1."""
    return float(_scheduler().get_card_retrievability(card, _noon(day)))


@cache
def _scheduler() -> "Scheduler":
    """Days, not minutes: a grade is a day's; and no dice, so that a plan can be made again."""
    from fsrs import Scheduler

    return Scheduler(
        desired_retention=RETENTION,
        learning_steps=(),
        relearning_steps=(),
        maximum_interval=LONGEST_DAYS,
        enable_fuzzing=False,
    )


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(12), UTC)
