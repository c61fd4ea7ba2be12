"""The week across the roster: who practises what on which day, and whose lesson is when."""

from datetime import date, timedelta
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from changewright.errors import PlanError
from changewright.plan.week import Day, Kind, Status, Week
from changewright.store.records import Student
from changewright.studio.forms import day
from changewright.studio.pages import page, see_other
from changewright.studio.studio import Studio, studio_of
from changewright.usecases.plans import latest_week, week_for

__all__ = ["ROUTES"]

_QUIET = (Kind.WARM_UP, Kind.FREE, Kind.REST)
_LONGEST_CELL = 2


def _week(request: Request) -> Response:
    studio = studio_of(request)
    told = request.query_params.get("from", "")
    starts = day(told, "the first day") if told else studio.filing.today()
    days = [starts + timedelta(days=n) for n in range(7)]
    rows = [_row(studio, player, days) for player in studio.store.all(Student)]
    return page(
        request,
        "week.html",
        days=days,
        rows=rows,
        before=starts - timedelta(days=7),
        after=starts + timedelta(days=7),
        unplanned=sum(row["week"] is None for row in rows),
    )


def _row(studio: Studio, player: Student, days: list[date]) -> dict[str, Any]:
    week = _planned(studio, player)
    covered = {} if week is None else {one.on: one for one in week.days}
    shown = any(on in covered for on in days)
    return {
        "player": player,
        "week": week if shown else None,
        "cells": [_cell(on, covered.get(on), player) for on in days],
    }


def _cell(on: date, planned: Day | None, player: Student) -> dict[str, Any]:
    items = [] if planned is None else [i for i in planned.items if i.kind not in _QUIET]
    titles = list(dict.fromkeys(item.title for item in items))
    return {
        "on": on,
        "lesson": on.weekday() == player.lesson_day,
        "minutes": 0 if planned is None else planned.minutes,
        "missed": planned is not None and planned.status is Status.MISSED,
        "titles": titles[:_LONGEST_CELL],
        "more": max(0, len(titles) - _LONGEST_CELL),
    }


def _planned(studio: Studio, player: Student) -> Week | None:
    try:
        return latest_week(studio.store, player)
    except PlanError:
        return None


async def _plan_all(request: Request) -> Response:
    """Plan the coming week of everybody who has none that reaches beyond today."""
    studio = studio_of(request)

    def plan() -> None:
        today = studio.filing.today()
        for player in studio.store.all(Student):
            week = _planned(studio, player)
            if week is None or week.starts + timedelta(days=7) <= today:
                week_for(studio.store, player, today)

    await run_in_threadpool(plan)
    return see_other("/week")


ROUTES = [Route("/week", _week), Route("/week", _plan_all, methods=["POST"])]
