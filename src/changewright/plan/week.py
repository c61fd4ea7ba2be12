"""A week as a value: days, items with their minutes and reasons; and what is asked of it."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from changewright.errors import PlanError
from changewright.plan.ladder import Climb
from changewright.plan.skill import Skill, skill_document, skill_from

__all__ = [
    "WEEKDAYS",
    "Day",
    "Item",
    "Kind",
    "Status",
    "TuneGoal",
    "Week",
    "WeekRequest",
    "week_document",
    "week_from",
]

FORMAT = "changewright-week/1"
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
LEAST_MINUTES, MOST_MINUTES = 5, 240


class Kind(StrEnum):
    """What an item is for."""

    WARM_UP = "warm up"
    DUE = "due again"
    NEW = "new"
    THEME = "goes on"
    TUNE = "the tune"
    USE = "use it"
    FREE = "free"
    AWAY = "without the instrument"
    REST = "rest"


class Status(StrEnum):
    """What became of a day."""

    PLANNED = "planned"
    DONE = "done"
    MISSED = "missed"


@dataclass(frozen=True, slots=True)
class TuneGoal:
    """A tune to have ready: concert key, tempo, the day of the concert where there is one."""

    title: str
    key: str
    tempo_bpm: int
    concert: date | None = None


@dataclass(frozen=True, slots=True)
class WeekRequest:
    """What a week is made for.

    ``days`` and ``lesson`` are weekdays, Monday 0; the week runs from ``starts`` for seven days.
    ``minutes`` are a day's, rests included. ``minutes_last_week`` is what was really played in
    the week before (0 after a break, None where nobody knows). ``sore`` shortens everything;
    ``hold`` lets nothing new in.
    """

    starts: date
    minutes: int
    days: tuple[int, ...]
    lesson: int
    climb: Climb
    tune: TuneGoal | None = None
    minutes_last_week: int | None = None
    sore: bool = False
    hold: bool = False

    def __post_init__(self) -> None:
        if not LEAST_MINUTES <= self.minutes <= MOST_MINUTES:
            raise PlanError(
                f"{self.minutes} minutes a day can't be planned",
                remedy=f"Choose {LEAST_MINUTES} to {MOST_MINUTES} minutes.",
            )
        if not self.days or not set(self.days) | {self.lesson} <= set(range(7)):
            raise PlanError(
                "a week needs at least one day of practice",
                remedy=f"Name days: {', '.join(WEEKDAYS)}.",
            )


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to do: how long, what, at which tempos in order, and why."""

    kind: Kind
    minutes: int
    title: str
    what: str
    because: str
    skill: Skill | None = None
    tempos: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Day:
    """One day of practice."""

    on: date
    items: tuple[Item, ...]
    status: Status = Status.PLANNED

    @property
    def minutes(self) -> int:
        """All minutes, rests included."""
        return sum(item.minutes for item in self.items)

    @property
    def name(self) -> str:
        """The weekday."""
        return WEEKDAYS[self.on.weekday()]


@dataclass(frozen=True, slots=True)
class Week:
    """A week's plan; ``because`` are the reasons for the whole, ``send`` what to bring along."""

    starts: date
    lesson: date
    days: tuple[Day, ...]
    because: tuple[str, ...]
    send: str

    @property
    def items(self) -> tuple[Item, ...]:
        """All items in order."""
        return tuple(item for day in self.days for item in day.items)

    @property
    def new(self) -> Skill | None:
        """The one new thing of the week."""
        return next((i.skill for i in self.items if i.kind is Kind.NEW), None)


def week_document(week: Week) -> dict[str, Any]:
    """A week as plain values for JSON."""
    return {
        "format": FORMAT,
        "starts": week.starts.isoformat(),
        "lesson": week.lesson.isoformat(),
        "because": list(week.because),
        "send": week.send,
        "days": [
            {
                "on": day.on.isoformat(),
                "weekday": day.name,
                "status": day.status.value,
                "minutes": day.minutes,
                "items": [_item(item) for item in day.items],
            }
            for day in week.days
        ],
    }


def week_from(document: dict[str, Any]) -> Week:
    """A week from its plain values."""
    return Week(
        date.fromisoformat(document["starts"]),
        date.fromisoformat(document["lesson"]),
        tuple(
            Day(
                date.fromisoformat(day["on"]),
                tuple(_item_from(item) for item in day["items"]),
                Status(day["status"]),
            )
            for day in document["days"]
        ),
        tuple(document["because"]),
        document["send"],
    )


def _item(item: Item) -> dict[str, Any]:
    return {
        "kind": item.kind.value,
        "minutes": item.minutes,
        "title": item.title,
        "what": item.what,
        "tempos": list(item.tempos),
        "because": item.because,
        "skill": skill_document(item.skill) if item.skill else None,
    }


def _item_from(document: dict[str, Any]) -> Item:
    return Item(
        Kind(document["kind"]),
        document["minutes"],
        document["title"],
        document["what"],
        document["because"],
        skill_from(document["skill"]) if document["skill"] else None,
        tuple(document["tempos"]),
    )
