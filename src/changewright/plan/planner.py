"""Plan a week: what is due, the next rung, the tune, warm-up and rests, within the minutes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from changewright.plan.curriculum import goal_bpm
from changewright.plan.day import Wants, fill_day
from changewright.plan.evidence import Grade
from changewright.plan.ladder import Novelty, Rung, next_rung
from changewright.plan.progress import Progress, Standing
from changewright.plan.skill import Skill, key_words
from changewright.plan.week import Day, Kind, Status, Week, WeekRequest

__all__ = ["due_on", "plan_week", "replan"]

MORE_THAN_LAST = 4 / 3
"""Source: domain reference 10.2: no more than a third more than last week."""
AFTER_BREAK = 15
"""Minutes a day in a first week back. Source: common practice, no source."""
_LEAST = 5
_NEW = (Novelty.FAMILY, Novelty.KEY)  # a tempo is climbed within the week
_AGAIN_AFTER = timedelta(days=3)  # what came back this week rests this long before it may again


def plan_week(progress: Progress, request: WeekRequest) -> Week:
    """Plan seven days from ``request.starts``; the same arguments give the same week."""
    dates = [request.starts + timedelta(days=n) for n in range(7)]
    practice = [d for d in dates if d.weekday() in request.days]
    lesson = next(d for d in dates if d.weekday() == request.lesson)
    minutes, reasons = _minutes(request, len(practice))
    rung = None if request.sore else next_rung(progress, request.climb)
    if request.hold and rung is not None and rung.novelty in _NEW:
        reasons.append("nothing new this week: the teacher holds")
        rung = None
    course = _Course(progress, request, rung)
    before = [d for d in practice if d < lesson] or practice
    days = [course.day(on, minutes, last=on == before[-1]) for on in practice]
    return Week(request.starts, lesson, tuple(days), tuple(reasons), _send(rung, request))


def replan(
    week: Week, progress: Progress, request: WeekRequest, on: date, missed: Sequence[date]
) -> Week:
    """Plan the rest of a week again from ``on``, after days that were missed.

    No day grows: what was missed is not made up for by playing more. What is forgotten still
    comes first, and what was begun as new this week stays the one new thing until it is met.
    """
    kept = tuple(
        replace(day, status=Status.MISSED if day.on in missed else Status.DONE)
        for day in week.days
        if day.on < on
    )
    done = [day for day in kept if day.status is Status.DONE]
    begun = next((i.skill for d in done for i in d.items if i.kind is Kind.NEW), None)
    if begun and progress.reached(begun.strand, begun.key) >= goal_bpm(begun.strand):
        begun = None
    fresh = plan_week(progress, replace(request, hold=request.hold or begun is not None))
    rung = Rung(begun, Novelty.NONE, "begun earlier this week") if begun else None
    if rung is None and not request.sore and not request.hold:
        rung = next_rung(progress, request.climb)
    minutes, reasons = _minutes(request, len(week.days))
    course = _Course(progress, request, rung)
    for day in done:
        course.note(day)
    ahead = [day.on for day in fresh.days if day.on >= on]
    before = [d for d in ahead if d < week.lesson] or ahead
    days = [course.day(d, minutes, last=d == before[-1]) for d in ahead]
    names = ", ".join(f"{d:%A}" for d in missed)
    told = f"{names} was missed: nothing is added to the other days" if missed else ""
    because = (*([told] if told else []), *reasons)
    return replace(week, days=(*kept, *days), because=because, send=_send(rung, request))


def due_on(progress: Progress, on: date, level: int) -> tuple[Standing, ...]:
    """What is due on a day: the forgotten first, then by the chance that is left."""
    known = _known(progress, on, level)
    return tuple(s for s in known if s.is_forgotten or (s.due is not None and s.due <= on))


def _known(progress: Progress, on: date, level: int) -> tuple[Standing, ...]:
    """What was begun and can be kept up, the forgotten first, then the weakest."""
    found = []
    for standing in progress.path(on):
        strand = standing.skill.strand
        takes = progress.takes_of(strand, standing.skill.key)
        in_tunes = all(e.part for e in takes) and takes and takes[-1].grade >= Grade.MET
        if strand.level <= level and standing.due is not None and not in_tunes:
            found.append(standing)
    return tuple(sorted(found, key=lambda s: (not s.is_forgotten, s.chance, s.skill)))


@dataclass
class _Course:
    """The week as it goes: what was placed, and whether the new thing has been let in."""

    progress: Progress
    request: WeekRequest
    rung: Rung | None

    def __post_init__(self) -> None:
        self.placed: dict[tuple[object, str], date] = {}
        self.begun = False
        self.count = 0

    def note(self, day: Day) -> None:
        """Count a day that has been practised."""
        for item in day.items:
            if item.skill is not None:
                self.placed[item.skill.strand, item.skill.key] = day.on
            self.begun = self.begun or item.kind is Kind.NEW
        self.count += 1

    def day(self, on: date, minutes: int, *, last: bool) -> Day:
        """Plan one day."""
        known = _known(self.progress, on, self.request.climb.level)
        due = [s for s in known if self._may(s, on)]
        wants = Wants(
            on=on,
            number=self.count,
            due=tuple((s, _practised(self.progress, s)) for s in due),
            forgotten=sum(s.is_forgotten for s in due),
            rung=self.rung,
            begun=self.begun or (self.rung is not None and self.rung.novelty not in _NEW),
            tune=self.request.tune,
            order=self.request.climb.order,
            last=last,
            sore=self.request.sore,
            level=self.request.climb.level,
            player=self.request.climb.player,
        )
        day = Day(on, fill_day(wants, minutes))
        self.note(day)
        return day

    def _may(self, standing: Standing, on: date) -> bool:
        cell = standing.skill.strand, standing.skill.key
        if self.rung is not None and cell == (self.rung.skill.strand, self.rung.skill.key):
            return False
        return cell not in self.placed or on - self.placed[cell] >= _AGAIN_AFTER


def _practised(progress: Progress, standing: Standing) -> Skill:
    """What is due at the tempo to play it at: as fast as it went, never above the goal."""
    skill = standing.skill
    reached = progress.reached(skill.strand, skill.key)
    slowest = min(
        (e.skill.tempo_bpm for e in progress.takes_of(skill.strand, skill.key)), default=0
    )
    tempo = min(reached or slowest or skill.tempo_bpm, goal_bpm(skill.strand))
    return replace(skill, tempo_bpm=tempo)


def _minutes(request: WeekRequest, days: int) -> tuple[int, list[str]]:
    """The minutes of a day, and why they are fewer than asked."""
    minutes, reasons = request.minutes, []
    last = request.minutes_last_week
    if last == 0 and minutes > AFTER_BREAK:
        minutes = AFTER_BREAK
        reasons.append(f"{minutes} minutes a day: the first week after a break starts gently")
    elif last and days and minutes * days > last * MORE_THAN_LAST:
        minutes = max(_LEAST, int(last * MORE_THAN_LAST) // days)
        reasons.append(
            f"{minutes} minutes a day: no more than a third more than last week ({last})"
        )
    if request.sore:
        minutes = max(_LEAST, minutes // 2)
        reasons.append("sore: half the minutes, nothing new, most of it without the instrument")
    return minutes, reasons


def _send(rung: Rung | None, request: WeekRequest) -> str:
    if rung is None:
        return "Send one free chorus, as it comes."
    key = key_words(rung.skill.key, request.climb.player)
    words = rung.skill.strand.words
    return f"Send one take of the {words} in {key}, and one free chorus."
