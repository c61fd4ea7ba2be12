"""Laws of the week: minutes, one new thing, the forgotten first, rests, and planning again."""

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from changewright.plan.curriculum import goal_bpm, key_order, keys_for, rungs, strands
from changewright.plan.day import BLOCK
from changewright.plan.evidence import Evidence, Grade
from changewright.plan.ladder import Climb
from changewright.plan.planner import plan_week, replan
from changewright.plan.progress import Mark, Progress, Stand
from changewright.plan.week import (
    Kind,
    Status,
    TuneGoal,
    Week,
    WeekRequest,
    week_document,
    week_from,
)
from tests.stores import NOW
from tests.unit.plan.students import heard

STARTS = date(2026, 9, 4)
ORDER = key_order("horns", "F")
NEW = Kind.NEW


@st.composite
def takes(draw: st.DrawFn) -> Evidence:
    strand = draw(st.sampled_from(strands(1) + strands(2)))
    key = draw(st.sampled_from(keys_for(strand, ORDER)[:6]))
    bpm = draw(st.sampled_from(rungs(goal_bpm(strand))))
    on = STARTS - timedelta(days=draw(st.integers(0, 250)))
    grade = draw(st.sampled_from(Grade))
    return heard(strand, key, on, bpm=bpm, grade=grade, part=draw(st.booleans()))


@st.composite
def learned(draw: st.DrawFn) -> list[Evidence]:
    """A thing once solid, and mostly long ago."""
    strand = draw(st.sampled_from(strands(1) + strands(2)))
    key = draw(st.sampled_from(keys_for(strand, ORDER)[:6]))
    last = STARTS - timedelta(days=draw(st.integers(0, 400)))
    return [heard(strand, key, last - timedelta(days=2)), heard(strand, key, last)]


@st.composite
def marks(draw: st.DrawFn) -> Mark:
    strand = draw(st.sampled_from(strands(1)))
    key = draw(st.sampled_from([None, *keys_for(strand, ORDER)[:4]]))
    return Mark(strand, draw(st.sampled_from(Stand)), NOW, key)


def _progress(once: list[list[Evidence]], more: list[Evidence], said: list[Mark]) -> Progress:
    return Progress([*(e for pair in once for e in pair), *more], said)


progresses = st.builds(
    _progress,
    st.lists(learned(), max_size=12),
    st.lists(takes(), max_size=12),
    st.lists(marks(), max_size=3),
)
tunes = st.none() | st.builds(
    TuneGoal,
    st.just("Quayside Blues"),
    st.just("F"),
    st.just(84),
    st.none() | st.dates(STARTS - timedelta(days=3), STARTS + timedelta(days=90)),
)
requests = st.builds(
    WeekRequest,
    starts=st.dates(STARTS, STARTS + timedelta(days=20)),
    minutes=st.integers(5, 240),
    days=st.sets(st.integers(0, 6), min_size=1).map(lambda days: tuple(sorted(days))),
    lesson=st.integers(0, 6),
    climb=st.builds(Climb, st.sampled_from([1, 2]), st.just(ORDER)),
    tune=tunes,
    minutes_last_week=st.none() | st.integers(0, 2000),
    sore=st.booleans(),
    hold=st.booleans(),
)


@settings(max_examples=150, deadline=None)
@given(progresses, requests)
def test_a_week_keeps_its_bounds(progress: Progress, request: WeekRequest) -> None:
    week = plan_week(progress, request)
    assert [d.on.weekday() in request.days for d in week.days] == [True] * len(request.days)
    assert all(day.minutes <= request.minutes for day in week.days)
    assert all(item.minutes >= 1 for item in week.items)
    assert len({i.skill for i in week.items if i.kind is NEW}) <= 1
    assert sum(i.kind is NEW for i in week.items) <= 1
    assert all(item.because and item.what and item.title for item in week.items)
    assert plan_week(progress, request) == week
    assert week_from(week_document(week)) == week


@settings(max_examples=100, deadline=None)
@given(progresses, requests)
def test_no_more_than_a_third_more_than_last_week(progress: Progress, request: WeekRequest) -> None:
    """Source: domain reference 10.2. Five minutes a day is the least that a plan can hold."""
    week = plan_week(progress, request)
    total = sum(day.minutes for day in week.days)
    last = request.minutes_last_week
    if last:
        assert total <= max(last * 4 / 3, 5 * len(week.days))
    elif last == 0:
        assert all(day.minutes <= 15 for day in week.days)


@settings(max_examples=100, deadline=None)
@given(progresses, requests)
def test_nobody_plays_longer_than_a_block_without_a_rest(
    progress: Progress, request: WeekRequest
) -> None:
    """Source: domain reference 10.2: blocks of 20 to 25 minutes."""
    for day in plan_week(progress, request).days:
        block = 0
        for item in day.items:
            block = 0 if item.kind is Kind.REST else block + item.minutes
            assert block <= BLOCK or request.sore
        assert day.items[0].kind in (Kind.WARM_UP, Kind.AWAY)


@settings(max_examples=150, deadline=None)
@given(progresses, requests)
def test_the_forgotten_come_before_anything_new(progress: Progress, request: WeekRequest) -> None:
    week = plan_week(progress, request)
    place = next((n for n, i in enumerate(week.items) if i.kind is NEW), None)
    if place is None:
        return
    new = week.items[place].skill
    on = next(day.on for day in week.days if any(i.kind is NEW for i in day.items))
    before = {(i.skill.strand, i.skill.key) for i in week.items[:place] if i.skill}
    for standing in progress.path(on):
        cell = standing.skill.strand, standing.skill.key
        is_old = standing.skill.strand.level <= request.climb.level and standing.due is not None
        takes = progress.takes_of(*cell)
        in_tunes = takes and all(e.part for e in takes) and takes[-1].grade >= Grade.MET
        if standing.stand is Stand.FORGOTTEN and is_old and not in_tunes:
            assert cell in before or (new and cell == (new.strand, new.key))


@settings(max_examples=100, deadline=None)
@given(progresses, requests)
def test_a_held_or_sore_week_has_nothing_new(progress: Progress, request: WeekRequest) -> None:
    for quiet in (replace(request, hold=True), replace(request, sore=True)):
        assert plan_week(progress, quiet).new is None


@settings(max_examples=100, deadline=None)
@given(progresses, requests, st.data())
def test_after_a_missed_day_nothing_grows(
    progress: Progress, request: WeekRequest, data: st.DataObject
) -> None:
    week = plan_week(progress, request)
    place = data.draw(st.integers(0, len(week.days) - 1))
    missed = [day.on for day in week.days[: place + 1] if data.draw(st.booleans())]
    on = week.days[place].on + timedelta(days=1)
    again = replan(week, progress, request, on, missed)
    assert [day.on for day in again.days] == [day.on for day in week.days]
    assert all(day.minutes <= request.minutes for day in again.days)
    assert {d.on for d in again.days if d.status is Status.MISSED} == set(missed)
    assert all((d.status is Status.PLANNED) == (d.on >= on) for d in again.days)
    ahead = [i for d in again.days if d.status is Status.PLANNED for i in d.items]
    assert sum(i.kind is NEW for i in ahead) <= 1
    assert not _begun(again, on) or not any(i.kind is NEW for i in ahead)


def _begun(week: Week, on: date) -> bool:
    """A new thing was let in on a day that was played, and is not met yet."""
    return any(
        i.kind is NEW for d in week.days if d.on < on and d.status is Status.DONE for i in d.items
    )
