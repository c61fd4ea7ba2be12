"""Plans as pages: what a tired student needs to see, and nothing twice."""

from datetime import date

from changewright.page.plan_sheet import PlanBox, PlanEntry, PlanSheet
from changewright.plan.class_plan import ClassPlan
from changewright.plan.lesson_plan import LessonPlan
from changewright.plan.week import Day, Item, Kind, Status, Week
from changewright.theory.key import Key

__all__ = ["class_page", "lesson_page", "week_page"]

_CROWDED = 40  # items from which on the page needs its room for them


def week_page(week: Week, for_whom: str = "") -> PlanSheet:
    """A week on a page; an item that comes again is told once and then only named."""
    told: dict[tuple[str, str, str], str] = {}
    boxes = tuple(_day_box(day, told) for day in week.days)
    lesson = f"lesson on {week.lesson:%A} {_date(week.lesson)}"
    head = ", ".join(part for part in (for_whom, lesson) if part)
    return PlanSheet(
        title=f"The week from {week.starts:%A} {_date(week.starts)}",
        for_whom=head,
        boxes=boxes,
        because=tuple(map(_sentence, week.because)),
        send=week.send,
        lines=3 if len(week.items) <= _CROWDED else 1,
    )


def lesson_page(plan: LessonPlan, for_whom: str = "") -> PlanSheet:
    """A lesson's course on a page, for the teacher's stand."""
    entries = tuple(
        PlanEntry(
            f"{s.start}–{s.end}",
            s.title,
            f"at {s.skill.tempo_bpm}" if s.skill else "",
            s.what,
            _sentence(s.because),
            strong=True,
        )
        for s in plan.segments
    )
    box = PlanBox(f"{plan.on:%A} {_date(plan.on)}", f"{plan.minutes} minutes", entries)
    return PlanSheet(plan.title, for_whom, (box,), columns=1, lines=4, ears="Note")


def class_page(plan: ClassPlan) -> PlanSheet:
    """A class on a page: who plays what, and the course of the hour."""
    rounds = tuple(
        PlanEntry(f"{r.start}–{r.end}", _round_title(r.title, r.soloists), what=r.what, strong=True)
        for r in plan.rounds
    )
    parts = tuple(
        PlanEntry(
            f"L{part.seat.level}",
            part.seat.name,
            what=f"Own page: {part.own.title}. Background: from the {part.strand}.",
            strong=True,
        )
        for part in plan.parts
    )
    key = Key.parse(plan.key).words
    return PlanSheet(
        f"{plan.title}, for a class",
        f"Concert {key}, quarter = {plan.tempo_bpm}",
        (
            PlanBox("Course", f"{plan.rounds[-1].end} minutes", rounds),
            PlanBox("Parts", f"{len(parts)} players", parts),
        ),
        lines=0,
    )


def _day_box(day: Day, told: dict[tuple[str, str, str], str]) -> PlanBox:
    note = f"{day.minutes} min"
    if day.status is not Status.PLANNED:
        return PlanBox(f"{day.name} {_date(day.on)}", day.status.value, ())
    return PlanBox(
        f"{day.name} {_date(day.on)}", note, tuple(_entry(item, day, told) for item in day.items)
    )


def _entry(item: Item, day: Day, told: dict[tuple[str, str, str], str]) -> PlanEntry:
    """An item; what was told on an earlier day is only named, its reason only where it changes."""
    family = "theme" if item.kind in (Kind.NEW, Kind.THEME) else item.kind.value
    title = "" if item.kind in (Kind.WARM_UP, Kind.REST) else item.title
    seen = (family, title, "") in told
    first = told.setdefault((family, title, item.what if title else ""), day.name)
    told.setdefault((family, title, ""), day.name)
    what = item.what if first == day.name and (title or not seen) else ""
    if not what and family in ("theme", Kind.DUE.value):
        what = f"As on {first}."
    tells_why = not seen and item.kind not in (Kind.WARM_UP, Kind.REST)
    because = item.because if tells_why else ""
    mark = {Kind.NEW: "New: ", Kind.DUE: "Again: "}.get(item.kind, "")
    return PlanEntry(
        str(item.minutes),
        f"{mark}{item.title[:1].lower() if mark else item.title[:1]}{item.title[1:]}",
        _tempos(item.tempos),
        "" if item.kind is Kind.REST else what,
        _sentence(because),
        strong=bool(item.skill) or item.kind is Kind.TUNE,
    )


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def _tempos(tempos: tuple[int, ...]) -> str:
    return "at " + "–".join(map(str, tempos)) if tempos else ""


def _round_title(title: str, soloists: tuple[str, ...]) -> str:
    return f"{title}: {', '.join(soloists)}" if title == "Solo" else title


def _date(day: date) -> str:
    return f"{day.day} {day:%B}"
