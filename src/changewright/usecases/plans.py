"""Plans for players of the roster: a week, the same after a missed day, lessons, classes."""

import re
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.errors import PlanError, RosterError
from changewright.page import Paper, lesson_pdf
from changewright.page.plan_sheet import PlanSheet, plan_pdf
from changewright.plan.class_plan import ClassPlan, Seat, plan_class
from changewright.plan.curriculum import key_order
from changewright.plan.ladder import Climb
from changewright.plan.lesson_plan import Heard as HeardBefore
from changewright.plan.lesson_plan import LessonPlan, first_lesson, next_lesson
from changewright.plan.planner import plan_week, replan
from changewright.plan.week import TuneGoal, Week, WeekRequest, week_document, week_from
from changewright.reading.analyse import analyse
from changewright.store.records import Heard, KeptPlan, LessonNote, Record, Student, Take, Tune
from changewright.store.store import Store
from changewright.theory.instrument import instrument
from changewright.usecases.charts import open_form
from changewright.usecases.roster import progress_of

__all__ = [
    "climb_of",
    "latest_week",
    "lesson_for",
    "miss_day",
    "plan_for_class",
    "print_parts",
    "print_plan",
    "week_for",
]

_STRINGS = ("guitar", "bass", "violin", "viola", "cello", "piano")
_RECENT = timedelta(days=21)


def climb_of(student: Student) -> Climb:
    """How a player climbs: level, order of keys from the home key, keys the instrument likes."""
    played = instrument(student.instrument)
    name = "strings" if any(word in played.id for word in _STRINGS) else "horns"
    liked = tuple(str(key) for key in played.concert_keys)
    order = key_order(name, student.home_key or ("C" if name == "strings" else "F"))
    return Climb(student.level, order, liked=liked, player=played)


def week_for(
    store: Store,
    student: Student,
    starts: date,
    *,
    minutes: int | None = None,
    minutes_last_week: int | None = None,
    sore: bool = False,
    hold: bool = False,
    keep: bool = True,
) -> Week:
    """Plan a player's week and keep the plan."""
    request = _request(store, student, starts, minutes, minutes_last_week, sore, hold)
    week = plan_week(progress_of(store, student), request)
    if keep:
        store.add(KeptPlan(student.id, "week", starts, store.now(), week_document(week)))
    return week


def miss_day(store: Store, student: Student, missed: Sequence[date], on: date) -> Week:
    """Plan the rest of the latest week again after days that were missed."""
    kept = _latest(store, student)
    week = week_from(kept.plan)
    strange = [day for day in missed if day not in {d.on for d in week.days}]
    if strange or not missed:
        named = ", ".join(d.on.isoformat() for d in week.days)
        raise PlanError(
            f"{strange[0] if strange else 'no day'} is no day of this week's plan",
            remedy=f"Its days: {named}.",
        )
    minutes = max((day.minutes for day in week.days), default=student.minutes)
    request = _request(store, student, week.starts, minutes, None, False, False)
    again = replan(week, progress_of(store, student), request, on, missed)
    kept_again = KeptPlan(student.id, "week", week.starts, store.now(), week_document(again))
    noted: list[Record] = [LessonNote(student.id, day, "missed", "missed") for day in missed]
    store.add_all([kept_again, *noted])
    return again


def latest_week(store: Store, student: Student) -> Week:
    """The week as it was planned last; raises :class:`PlanError` where there is none."""
    return week_from(_latest(store, student).plan)


def lesson_for(store: Store, student: Student, on: date, minutes: int | None = None) -> LessonPlan:
    """The first lesson where nothing was heard yet, else the next from what was heard."""
    progress = progress_of(store, student)
    takes = {take.id: take for take in store.all(Take, student=student.id)}
    notes = [n for n in store.all(LessonNote, student=student.id) if n.kind == "lesson"]
    if not takes and not notes:
        first = {} if minutes is None else {"minutes": minutes}
        return first_lesson(on, student.home_key or "F", **first)
    heard = [
        _heard_before(h, takes[h.take])
        for h in store.all(Heard)
        if h.take in takes and takes[h.take].received.date() >= on - _RECENT
    ]
    return next_lesson(
        on,
        progress,
        climb_of(student),
        heard[-2:],
        minutes or 60,
        notes[-1].text if notes else "",
    )


def plan_for_class(
    students: Sequence[Student],
    source: str,
    *,
    key: str | None = None,
    minutes: int = 60,
    seed: int = 1,
) -> ClassPlan:
    """Plan a class of players over one tune, from a chart file or the shelf."""
    if not students:
        raise RosterError("a class needs players", remedy="Put them on the roster first.")
    form = open_form(source, key)
    seats = [Seat(s.nickname, instrument(s.instrument), s.level) for s in students]
    return plan_class(analyse(form), seats, minutes=minutes, seed=seed, feel=form.feel)


def print_parts(plan: ClassPlan, folder: Path, paper: Paper = "a4") -> tuple[Path, ...]:
    """Print each player's own page and background, a PDF a player; returns the files."""
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for number, part in enumerate(plan.parts, start=1):
        name = re.sub(r"[^a-z0-9]+", "-", part.seat.name.lower()).strip("-") or "player"
        target = folder / f"{number:02}-{name}.pdf"
        sheets = (part.own, part.background)
        page = lesson_pdf(sheets, title=plan.title, for_whom=part.seat.name, paper=paper)
        target.write_bytes(page)
        made.append(target)
    return tuple(made)


def print_plan(sheet: PlanSheet, target: Path, paper: Paper = "a4") -> None:
    """Write a plan's page as a PDF."""
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(plan_pdf(sheet, paper=paper))


def _request(
    store: Store,
    student: Student,
    starts: date,
    minutes: int | None,
    last: int | None,
    sore: bool,
    hold: bool,
) -> WeekRequest:
    return WeekRequest(
        starts=starts,
        minutes=minutes or student.minutes,
        days=student.days,
        lesson=student.lesson_day,
        climb=climb_of(student),
        tune=_tune_goal(store, student),
        minutes_last_week=last,
        sore=sore,
        hold=hold,
    )


def _tune_goal(store: Store, student: Student) -> TuneGoal | None:
    if student.tune is None:
        return None
    tune = store.get(Tune, student.tune)
    form = unroll(read_chart(tune.chart))
    return TuneGoal(tune.title, tune.key or "C", form.tempo_bpm, student.concert)


def _latest(store: Store, student: Student) -> KeptPlan:
    kept = store.all(KeptPlan, student=student.id, kind="week")
    if not kept:
        raise PlanError(
            f"no week was planned for {student.nickname!r}",
            remedy="Plan one with 'changewright plan week'.",
        )
    return kept[-1]


def _heard_before(heard: Heard, take: Take) -> HeardBefore:
    said = heard.hearing.get("remarks") or {}
    strength, correction = (said.get(part) or {} for part in ("strength", "correction"))
    return HeardBefore(
        str(heard.hearing.get("title", "")),
        take.received.date(),
        str(strength.get("text", "")),
        str(correction.get("text", "")),
    )
