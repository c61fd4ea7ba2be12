"""The Desk: from a chart and a player to a lesson, and to another one like it."""

from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from changewright.errors import InputError
from changewright.lesson.family import families, family
from changewright.lesson.level import level, levels
from changewright.page import screen_svg
from changewright.studio.folder import Asked, Folder
from changewright.studio.pages import page, see_other
from changewright.studio.shapes import NAME
from changewright.studio.shelf import chart_lines
from changewright.studio.studio import studio_of
from changewright.theory.instrument import instrument, instruments
from changewright.usecases.charts import parse_key
from changewright.usecases.lesson import LessonRequest, plan_lesson
from changewright.usecases.lesson_folder import load_assignment, load_manifest, write_lesson
from changewright.usecases.stems import stem_shelf

__all__ = ["KEYS", "ROUTES", "asked_from", "make_lesson"]

KEYS = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
"""Twelve keys in the order of practice. Source: common practice, around the circle of fourths."""

_LONGEST_NAME = 80
_MOST_SEED = 999_999
_MOST_FAMILIES = 6


def asked_from(form: FormData, folder: Folder) -> Asked:
    """Read the Desk's form; raises :class:`InputError` for anything that can't be made."""
    chart, _, version = str(form.get("chart", "")).partition("@")
    key = str(form.get("key", "")).strip() or None
    asked = Asked(
        chart=_chart(chart),
        version=_number(version or "0", "version", 0, 9999),
        instrument=instrument(str(form.get("instrument", ""))).id,
        level=level(_number(str(form.get("level", "")), "level", 1, 99)).number,
        key=None if key is None else str(parse_key(key)),
        seed=_number(str(form.get("seed", "1")) or "1", "seed", 0, _MOST_SEED),
        student=" ".join(str(form.get("student", "")).split())[:_LONGEST_NAME],
        families=_families([str(one) for one in form.getlist("family")]),
    )
    folder.source(asked.chart, asked.version)
    return asked


def _chart(name: str) -> str:
    if not NAME.fullmatch(name):
        raise InputError("no chart was chosen", remedy="Choose one from the list.")
    return name


def _families(names: list[str]) -> tuple[str, ...]:
    if len(names) > _MOST_FAMILIES:
        raise InputError(
            f"{len(names)} exercises are more than a lesson holds",
            remedy=f"Choose up to {_MOST_FAMILIES}.",
        )
    for name in names:
        family(name)
    return tuple(names)


def _number(text: str, what: str, low: int, high: int) -> int:
    if not text.isdecimal() or len(text) > 6 or not low <= int(text) <= high:
        raise InputError(
            f"can't use {what} {text[:20]!r}", remedy=f"Write a whole number, {low} to {high}."
        )
    return int(text)


def make_lesson(asked: Asked, folder: Folder) -> str:
    """Compose, engrave and sound what was asked for, unless it is there already; its name."""
    target = folder.lesson(asked.id)
    if not target.is_dir():
        request = LessonRequest(
            chart=folder.source(asked.chart, asked.version),
            instrument=asked.instrument,
            level=asked.level,
            key=asked.key,
            seed=asked.seed,
            student=asked.student,
            families=asked.families,
        )
        write_lesson(plan_lesson(request), target, stem_shelf())
    folder.keep_request(asked)
    return asked.id


def _desk(request: Request) -> Response:
    folder = studio_of(request).folder
    told = [_told(asked, folder) for asked in folder.lessons()[:30]]
    chosen = request.query_params.get("chart", "quayside-blues@0")
    return page(request, "desk.html", lessons=told, chosen=chosen, **_choices(folder))


def _choices(folder: Folder) -> dict[str, Any]:
    return {
        "charts": chart_lines(folder),
        "instruments": list(instruments()),
        "levels": [(n, one.name, one.who) for n, one in levels().items()],
        "keys": KEYS,
        "families": list(families().values()),
    }


def _told(asked: Asked, folder: Folder) -> dict[str, Any]:
    return {
        "id": asked.id,
        "asked": asked,
        "title": load_manifest(folder.lesson(asked.id))["title"],
    }


async def _make(request: Request) -> Response:
    folder = studio_of(request).folder
    form = await request.form(max_files=0, max_fields=60)

    def made() -> str:
        return make_lesson(asked_from(form, folder), folder)

    return see_other(f"/lessons/{await run_in_threadpool(made)}")


async def _change(request: Request) -> Response:
    """Another lesson from this one: ``another``, ``easier``, ``harder``, or another ``key``."""
    form = await request.form(max_files=0, max_fields=10)
    folder, lesson_id = studio_of(request).folder, request.path_params["lesson"]
    way, key = str(form.get("way", "")), str(form.get("key", ""))

    def made() -> str:
        return make_lesson(_changed(folder.asked(lesson_id), way, key), folder)

    return see_other(f"/lessons/{await run_in_threadpool(made)}")


def _changed(asked: Asked, way: str, key: str) -> Asked:
    if way == "another":
        return replace(asked, seed=asked.seed % _MOST_SEED + 1)
    if way == "key":
        return replace(asked, key=str(parse_key(key)))
    if way not in ("easier", "harder"):
        raise InputError(f"can't make a lesson {way[:20]!r}", remedy="Use the page's buttons.")
    rung = level(asked.level + (1 if way == "harder" else -1)).number
    fitting = tuple(f for f in asked.families if family(f)[0].since <= rung)
    return replace(asked, level=rung, families=fitting)


def _invite(request: Request) -> Response:
    """A link for the student, shown once."""
    studio, lesson_id = studio_of(request), request.path_params["lesson"]
    studio.folder.asked(lesson_id)
    if studio.door is None:
        raise InputError(
            "only this machine can come in, so a link would open nothing",
            remedy="Start the studio with --host, and a password.",
        )
    token = studio.door.guests.invite(lesson_id)
    return _shown(request, f"{request.base_url}join/{token}")


def _revoke(request: Request) -> Response:
    studio, lesson_id = studio_of(request), request.path_params["lesson"]
    if studio.door is not None:
        studio.door.guests.revoke(lesson_id)
    return see_other(f"/lessons/{studio.folder.lesson(lesson_id).name}")


def _lesson(request: Request) -> Response:
    return _shown(request, "")


def _shown(request: Request, link: str) -> Response:
    door = studio_of(request).door
    folder, lesson_id = studio_of(request).folder, request.path_params["lesson"]
    asked = folder.asked(lesson_id)
    manifest = load_manifest(folder.lesson(lesson_id))
    shown = [_exercise(folder, lesson_id, one["number"]) for one in manifest["exercises"]]
    return page(
        request,
        "lesson.html",
        asked=asked,
        id=lesson_id,
        title=manifest["title"],
        key=manifest["key"],
        keys=KEYS,
        lowest=min(levels()),
        highest=max(levels()),
        level_name=level(asked.level).name,
        exercises=shown,
        link=link,
        links=0 if door is None else door.guests.count(lesson_id),
    )


def _exercise(folder: Folder, lesson_id: str, number: int) -> dict[str, Any]:
    sheet = load_assignment(folder.lesson(lesson_id), number).sheet
    return {
        "number": number,
        "title": sheet.title,
        "instruction": sheet.instruction,
        "tempo": sheet.tempo_bpm,
        "systems": screen_svg(sheet),
        "takes": len(folder.takes(lesson_id, number)),
    }


def _pdf(request: Request) -> Response:
    folder, lesson_id = studio_of(request).folder, request.path_params["lesson"]
    folder.asked(lesson_id)
    path = folder.lesson(lesson_id) / "lesson.pdf"
    return FileResponse(
        path,
        media_type="application/pdf",
        filename=f"{folder.asked(lesson_id).chart}.pdf",
        content_disposition_type="attachment",
    )


def _score(request: Request) -> Response:
    """The systems of an exercise for a narrower or wider screen, as a piece of a page."""
    folder, told = studio_of(request).folder, request.path_params
    bars = request.query_params.get("bars", "4")
    count = int(bars) if bars in ("1", "2", "3", "4") else 4
    sheet = load_assignment(folder.lesson(told["lesson"]), told["exercise"]).sheet
    return page(request, "_score.html", systems=screen_svg(sheet, bars_a_system=count))


ROUTES = [
    Route("/", _desk),
    Route("/lessons", _make, methods=["POST"]),
    Route("/lessons/{lesson}", _lesson),
    Route("/lessons/{lesson}/change", _change, methods=["POST"]),
    Route("/lessons/{lesson}/invite", _invite, methods=["POST"]),
    Route("/lessons/{lesson}/revoke", _revoke, methods=["POST"]),
    Route("/lessons/{lesson}/lesson.pdf", _pdf),
    Route("/lessons/{lesson}/{exercise:int}/score", _score),
]
