"""How well something is kept in mind, from the days on which it was played and how it went."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from changewright.plan._fsrs import chance_on, reviewed
from changewright.plan.evidence import Grade

__all__ = ["Memory", "remember"]


@dataclass(frozen=True, slots=True)
class Memory:
    """A memory of one thing: ``last`` is the day it was last played, ``due`` the day on which the
    chance of still having it falls to where it pays to bring it back."""

    last: date
    due: date
    stability_days: float
    _card: Any = field(repr=False, compare=False)

    def chance(self, on: date) -> float:
        """The chance that it goes on a day, 0 to 1."""
        return chance_on(self._card, max(on, self.last))


def remember(reviews: Sequence[tuple[date, Grade]]) -> Memory | None:
    """Build a memory from days and grades in any order; None where there are none.

    Of several grades on one day the last given counts. Source: the scheduler FSRS-6 of the
    library fsrs; how grades are formed is ours.
    """
    if not reviews:
        return None
    by_day: dict[date, Grade] = dict(sorted(reviews, key=lambda review: review[0]))
    days = sorted(by_day.items())
    card, due = reviewed([(day, int(grade)) for day, grade in days])
    return Memory(days[-1][0], due, float(card.stability or 0.0), card)
