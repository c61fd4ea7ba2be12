"""The planner beside a fixed order and a random order, on simulated students.

All practise the same minutes a day, climb the same tempo ladder by the same rule, and are asked the
same: every goal (four strands in four keys) must still go a week later. Only what comes when is
different. ``page``: the book in order, a cell until it is met, then the next, from the start again
at the end. ``rotation``: two cells a day in fixed order. ``random``: two cells a day, drawn.
"""

from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from statistics import mean, median

from benchmarks.figure import Figure, median_ms
from benchmarks.students import NOTES, Cell, SimulatedStudent
from changewright.plan.curriculum import goal_bpm, key_order, keys_for, rungs, strands
from changewright.plan.evidence import Count, Evidence, Grade, grade_of
from changewright.plan.ladder import Climb
from changewright.plan.planner import plan_week
from changewright.plan.progress import Progress
from changewright.plan.week import Kind, WeekRequest

__all__ = ["figures", "minutes_to_goal"]

SEEDS = tuple(range(11, 21))
"""Students that the planner's settings were not chosen on (those were 1 to 10)."""
STRANDS, KEYS = 4, 4
MINUTES = 20
MOST_DAYS = 280
START = date(2026, 1, 5)
ORDER = key_order("horns", "F")

Choice = list[tuple[Cell, int]]
Chooser = Callable[[int], Choice]


def figures() -> Iterable[Figure]:
    """Minutes to the goal by policy, medians over seeds 11 to 20, and the time a plan takes."""
    names = ("planner", "page", "rotation", "random")
    taken = {name: [minutes_to_goal(name, seed) for seed in SEEDS] for name in names}
    ours = median(taken["planner"])
    most = _days(MOST_DAYS - 1) * MINUTES
    for name in names:
        there = sum(minutes < most for minutes in taken[name])
        yield Figure(f"plan.students_there_with_{name}", there, f"of {len(SEEDS)}")
    for name in names[1:]:
        yield Figure(f"plan.minutes_to_goal_beside_{name}", ours, "min", name, median(taken[name]))
        wins = sum(a < b for a, b in zip(taken["planner"], taken[name], strict=True))
        yield Figure(f"plan.students_faster_than_{name}", wins, f"of {len(SEEDS)}")
        ratio = mean(a / b for a, b in zip(taken["planner"], taken[name], strict=True))
        yield Figure(f"plan.minutes_share_of_{name}", ratio, "ratio")
    progress, request = _long_record()
    yield Figure("plan.week_ms", median_ms(lambda: plan_week(progress, request), 5), "ms")


def minutes_to_goal(policy: str, seed: int) -> int:
    """Practice minutes until every goal would still go a week later."""
    goals = strands(1)[:STRANDS]
    keys = {s: keys_for(s, ORDER)[:KEYS] for s in goals}
    student = SimulatedStudent(seed, goals, keys)
    record: list[Evidence] = []
    choose = _POLICIES[policy](student, record, seed)
    theme = _theme_minutes()
    for number in range(MOST_DAYS):
        if number % 7 in (3, 6):  # five days a week
            continue
        for cell, minutes in _within(choose(number), theme):
            _play(student, record, cell, number, minutes)
        if student.kept(number) == len(student.cells):
            return _days(number) * MINUTES
    return _days(MOST_DAYS - 1) * MINUTES


def _days(number: int) -> int:
    return sum(n % 7 not in (3, 6) for n in range(number + 1))


def _play(
    student: SimulatedStudent, record: list[Evidence], cell: Cell, number: int, minutes: int
) -> None:
    """Practise from the last rung met upwards, and put the take on record."""
    strand, key = cell
    goal = goal_bpm(strand)
    reached = max((e.skill.tempo_bpm for e in record if _is(e, cell) and e.passed), default=0)
    ladder = [rung for rung in rungs(goal) if rung >= reached] or [goal]
    rung, right = student.practise(cell, number, minutes, [bpm / goal for bpm in ladder])
    counts = (Count("note", right, NOTES, NOTES),)
    at = datetime.combine(START + timedelta(days=number), time(18), UTC)
    grade = grade_of(strand.family, strand.level, counts) or _plain(right / NOTES)
    skill = strand.at(key, ladder[rung])
    record.append(Evidence(skill, at, f"take-{len(record)}", counts, grade, 0.95))


def _plain(share: float) -> Grade:
    if share < 0.6:
        return Grade.LOST
    return Grade.MET if share >= 0.85 else Grade.SHAKY


def _is(evidence: Evidence, cell: Cell) -> bool:
    return (evidence.skill.strand, evidence.skill.key) == cell


def _within(choice: Choice, minutes: int) -> Iterator[tuple[Cell, int]]:
    """No policy gets more of the day than another."""
    for cell, wanted in choice:
        if minutes > 0:
            yield cell, min(wanted, minutes)
            minutes -= wanted


def _theme_minutes() -> int:
    """What the planner's day of twenty minutes leaves for due and new things."""
    return 7


def _planner(student: SimulatedStudent, record: list[Evidence], _seed: int) -> Chooser:
    climb = Climb(1, ORDER, goals=student.strands, keys=KEYS)
    cells = set(student.cells)

    def choose(number: int) -> Choice:
        request = WeekRequest(START + timedelta(days=number), MINUTES, tuple(range(7)), 3, climb)
        day = plan_week(Progress(record), request).days[0]
        themes = [i for i in day.items if i.kind in (Kind.DUE, Kind.NEW, Kind.THEME)]
        found = [((i.skill.strand, i.skill.key), i.minutes) for i in themes if i.skill]
        return [(cell, minutes) for cell, minutes in found if cell in cells]

    return choose


def _page(student: SimulatedStudent, record: list[Evidence], _seed: int) -> Chooser:
    place = 0

    def choose(_number: int) -> Choice:
        nonlocal place
        cell = student.cells[place % len(student.cells)]
        mine = [e for e in record if _is(e, cell)]
        met = [e for e in mine if e.passed and e.skill.tempo_bpm >= goal_bpm(cell[0])]
        rounds = place // len(student.cells)
        if len(met) > rounds:
            place += 1
        return [(student.cells[place % len(student.cells)], 7)]

    return choose


def _rotation(student: SimulatedStudent, _record: list[Evidence], _seed: int) -> Chooser:
    place = 0

    def choose(_number: int) -> Choice:
        nonlocal place
        cells = student.cells
        place += 2
        return [(cells[(place - 2) % len(cells)], 4), (cells[(place - 1) % len(cells)], 3)]

    return choose


def _random(student: SimulatedStudent, _record: list[Evidence], seed: int) -> Chooser:
    dice = Random(f"random/{seed}")

    def choose(_number: int) -> Choice:
        return [(dice.choice(student.cells), 4), (dice.choice(student.cells), 3)]

    return choose


_POLICIES = {"planner": _planner, "page": _page, "rotation": _rotation, "random": _random}


def _long_record() -> tuple[Progress, WeekRequest]:
    """A year of takes: three a week over forty cells."""
    dice = Random("record")
    cells = [(s, k) for s in strands(1) for k in keys_for(s, ORDER)[:8]]
    record = []
    for number in range(156):
        strand, key = dice.choice(cells)
        at = datetime.combine(START + timedelta(days=2 * number), time(18), UTC)
        grade = Grade(dice.choice((1, 2, 3, 3, 4)))
        record.append(Evidence(strand.at(key, goal_bpm(strand)), at, str(number), (), grade, 0.9))
    request = WeekRequest(START + timedelta(days=320), 20, (0, 1, 2, 4, 5), 3, Climb(1, ORDER))
    return Progress(record), request
