"""A lesson's page at the Desk: its exercises, its PDF, another one from it, its player's link."""

from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from changewright.errors import InputError, NotKept
from changewright.lesson.family import family
from changewright.lesson.level import level, levels
from changewright.lesson.player import Player
from changewright.lesson.swap import swaps_for
from changewright.reading.analyse import analyse
from changewright.studio.desk import KEYS, MOST_SEED, title_of
from changewright.studio.engraved import assignment_of, manifest_of, systems_of
from changewright.studio.folder import Asked
from changewright.studio.forms import form_of, number, words
from changewright.studio.links import link_view
from changewright.studio.making import ask_for, state_of
from changewright.studio.pages import page, see_other
from changewright.studio.studio import Studio, studio_of
from changewright.usecases.charts import open_form, parse_key
from changewright.usecases.lesson import swap_ground

__all__ = ["ROUTES"]

_MOST_SWAPS = 24


def _lesson(request: Request) -> Response:
    return _shown(request, None)


def _shown(request: Request, link: dict[str, str] | None) -> Response:
    studio, lesson_id = studio_of(request), request.path_params["lesson"]
    asked = studio.folder.asked(lesson_id)
    student = studio.filing.nickname(asked)
    fault = studio.folder.fault(lesson_id)
    if fault is not None:
        title = title_of(studio.folder, asked)
        told = {"asked": asked, "student": student, "fault": fault, "title": title}
        return page(request, "failed.html", status=422, id=lesson_id, **told)
    if not studio.folder.is_made(lesson_id):
        told = state_of(studio, lesson_id)
        return page(
            request,
            "making.html",
            status=202,
            at=f"/lessons/{lesson_id}",
            id=lesson_id,
            asked=asked,
            student=student,
            **told,
        )
    manifest = manifest_of(studio.folder.lesson(lesson_id))
    numbers = [one["number"] for one in manifest["exercises"]]
    return page(
        request,
        "lesson.html",
        asked=asked,
        id=lesson_id,
        student=student,
        title=manifest["title"],
        key=manifest["key"],
        keys=KEYS,
        lowest=min(levels()),
        highest=max(levels()),
        level_name=level(asked.level).name,
        exercises=[_exercise(studio, lesson_id, nth) for nth in numbers],
        link=link,
        links=0 if studio.door is None else studio.door.guests.count(asked.player),
    )


def _exercise(studio: Studio, lesson_id: str, nth: int) -> dict[str, Any]:
    lesson = studio.folder.lesson(lesson_id)
    sheet = assignment_of(lesson, nth).sheet
    return {
        "number": nth,
        "title": sheet.title,
        "instruction": sheet.instruction,
        "tempo": sheet.tempo_bpm,
        "systems": systems_of(lesson, nth),
        "takes": len(studio.filing.takes(lesson_id, nth)),
    }


def _progress(request: Request) -> Response:
    """How far a lesson is, for a page that waits."""
    studio, lesson_id = studio_of(request), request.path_params["lesson"]
    studio.folder.asked(lesson_id)
    return JSONResponse(state_of(studio, lesson_id))


def _again(request: Request) -> Response:
    """Make a lesson that could not be made, once more."""
    studio = studio_of(request)
    return see_other(f"/lessons/{ask_for(studio, studio.folder.asked(_failed(request)))}")


def _forget(request: Request) -> Response:
    """Ask no longer for a lesson that could not be made."""
    studio_of(request).folder.forget(_failed(request))
    return see_other("/")


def _failed(request: Request) -> str:
    lesson_id: str = request.path_params["lesson"]
    if studio_of(request).folder.fault(lesson_id) is None:
        raise NotKept("this lesson did not fail", remedy="Go back to the Desk.")
    return lesson_id


async def _change(request: Request) -> Response:
    """Another lesson from this one: ``another``, ``easier``, ``harder``, or another ``key``."""
    form, lesson_id = await form_of(request), request.path_params["lesson"]
    studio, way, key = studio_of(request), words(form, "way"), words(form, "key")

    def asked() -> str:
        return ask_for(studio, _changed(studio.folder.asked(lesson_id), way, key))

    return see_other(f"/lessons/{await run_in_threadpool(asked)}")


def _changed(asked: Asked, way: str, key: str) -> Asked:
    if way == "another":
        return replace(asked, seed=asked.seed % MOST_SEED + 1)
    if way == "key":
        return replace(asked, key=str(parse_key(key)))
    if way not in ("easier", "harder"):
        raise InputError(f"can't make a lesson {way[:20]!r}", remedy="Use the page's buttons.")
    rung = level(asked.level + (1 if way == "harder" else -1)).number
    fitting = tuple(f for f in asked.families if family(f)[0].since <= rung)
    return replace(asked, level=rung, families=fitting, swaps=())


def _phrases(request: Request) -> Response:
    """The phrases that could stand in an exercise, bar by bar."""
    studio, told = studio_of(request), request.path_params
    lesson, nth = studio.folder.made(told["lesson"]), told["exercise"]
    asked, sheet = studio.folder.asked(told["lesson"]), assignment_of(lesson, nth).sheet
    form = open_form(studio.folder.source(asked.chart, asked.version), asked.key)
    player, rung = Player(sheet.instrument), level(asked.level)
    fitting = swaps_for(swap_ground(analyse(form), player, rung))
    return page(
        request,
        "phrases.html",
        id=told["lesson"],
        number=nth,
        sheet=sheet,
        systems=systems_of(lesson, nth),
        fitting=fitting,
        done=[(bar, phrase) for n, bar, phrase in asked.swaps if n == nth],
    )


async def _swap(request: Request) -> Response:
    """The lesson with a phrase in the place of a bar of one exercise."""
    form, told = await form_of(request), request.path_params
    studio, wish = studio_of(request), words(form, "phrase")
    bar, _, phrase = wish.partition(":")

    def asked() -> str:
        before = studio.folder.asked(told["lesson"])
        assignment_of(studio.folder.made(told["lesson"]), told["exercise"])
        if len(before.swaps) >= _MOST_SWAPS:
            raise InputError("that is too much patchwork", remedy="Make another lesson.")
        swap = told["exercise"], number(bar, "bar", 1, 9999), phrase
        return ask_for(studio, replace(before, swaps=(*before.swaps, swap)))

    return see_other(f"/lessons/{await run_in_threadpool(asked)}")


def _invite(request: Request) -> Response:
    """A link for the player, shown once; it leads to this lesson first."""
    studio, lesson_id = studio_of(request), request.path_params["lesson"]
    asked = studio.folder.asked(lesson_id)
    if studio.filing.player(asked) is None:
        raise InputError("this lesson is nobody's", remedy="Make it for a player of the roster.")
    return _shown(request, link_view(request, asked.player, lesson_id))


def _pdf(request: Request) -> Response:
    folder, lesson_id = studio_of(request).folder, request.path_params["lesson"]
    return FileResponse(
        folder.made(lesson_id) / "lesson.pdf",
        media_type="application/pdf",
        filename=f"{folder.asked(lesson_id).chart}.pdf",
        content_disposition_type="attachment",
    )


ROUTES = [
    Route("/lessons/{lesson}", _lesson),
    Route("/lessons/{lesson}/state", _progress),
    Route("/lessons/{lesson}/again", _again, methods=["POST"]),
    Route("/lessons/{lesson}/forget", _forget, methods=["POST"]),
    Route("/lessons/{lesson}/change", _change, methods=["POST"]),
    Route("/lessons/{lesson}/{exercise:int}/phrases", _phrases),
    Route("/lessons/{lesson}/{exercise:int}/phrases", _swap, methods=["POST"]),
    Route("/lessons/{lesson}/invite", _invite, methods=["POST"]),
    Route("/lessons/{lesson}/lesson.pdf", _pdf),
]
