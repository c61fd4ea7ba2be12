"""The Stand's page: one exercise, its band and the microphone. What comes of a recording is in
:mod:`changewright.studio.takes`."""

import asyncio
import json
from collections.abc import Callable
from concurrent.futures import Future
from functools import lru_cache
from secrets import token_hex
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from changewright.errors import InputError, NotKept, TakeError
from changewright.store.records import Take
from changewright.studio.engraved import manifest_of
from changewright.studio.filing import KeptTake
from changewright.studio.follower import Verdict
from changewright.studio.making import state_of
from changewright.studio.pages import HERE, page
from changewright.studio.part import Part
from changewright.studio.pieces import Telling
from changewright.studio.shapes import KEY
from changewright.studio.studio import studio_of
from changewright.studio.takes import listen_to, verdict_page, wait_for
from changewright.theory.key import Key
from changewright.usecases.lesson_folder import Assignment
from changewright.usecases.variant import TEMPI

__all__ = ["ROUTES", "score_times"]

_STEMS = ("count-in", "drums", "bass", "comping", "line")
_TONICS = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
_RATES = ("44100", "48000", "96000")  # at which a take is followed; at others it is heard later
_LONGEST_TELLING = 10_000


def score_times(asked: Assignment) -> dict[str, Any]:
    """When each bar sounds, in seconds from the first sample of the stems, and how long a beat of
    the count-in is."""
    sheet, clock = asked.sheet, asked.clock
    return {
        "lead_s": float(clock.lead_in) * clock.quarter_s,
        "beat_s": clock.quarter_s * 4 / sheet.bars[0].meter.unit,
        "bars": [
            {
                "number": bar.number,
                "start_s": round(clock.to_seconds(bar.start), 6),
                "end_s": round(clock.to_seconds(bar.end), 6),
            }
            for bar in sheet.bars
        ],
    }


def _keys(home: str) -> list[str]:
    """Twelve keys of a chart's mode, its own among them as it is spelled."""
    own = Key.parse(home)
    tonics = [Key.parse(tonic).tonic for tonic in _TONICS]
    mode = "m" if own.mode == "minor" else ""
    return [home if t.pc == own.tonic.pc else f"{t}{mode}" for t in tonics]


@lru_cache(256)
def _setting(part: Part) -> dict[str, Any]:
    """What of the page depends on tempo and key, to be looked at and not changed; a part in its
    folder never changes, and a class opens the same page at the same moment."""
    asked = part.asked
    return {
        **score_times(asked),
        "tempo": asked.sheet.tempo_bpm,
        "key": part.key,
        "words": f"Concert {part.key}, quarter = {asked.sheet.tempo_bpm}.",
    }


def _ask(request: Request) -> Future[Part]:
    """The exercise that is asked for, at the tempo and in the key that the address names."""
    tempo, key = request.query_params.get("tempo"), request.query_params.get("in")
    told = request.path_params
    return studio_of(request).ask_part(told["lesson"], told["exercise"], _bpm(tempo), key)


async def _with_part(request: Request, show: Callable[[Request, Part], Response]) -> Response:
    """What is shown of a part. One that is there is shown in one go, so that of a class that comes
    at once the first need not wait for the last; for one that is made first, no thread waits."""

    def begun() -> Response | Future[Part]:
        asked = _ask(request)
        return show(request, asked.result()) if asked.done() else asked

    told = await run_in_threadpool(begun)
    if isinstance(told, Response):
        return told
    part = await asyncio.shield(asyncio.wrap_future(told))
    return await run_in_threadpool(show, request, part)


def _bpm(text: str | None) -> int | None:
    if text is None:
        return None
    if not text.isdecimal() or len(text) > 3:
        low, high = TEMPI
        raise InputError(f"can't read a tempo of {text[:20]!r}", remedy=f"Write {low} to {high}.")
    return int(text)


async def _stand(request: Request) -> Response:
    try:
        return await _with_part(request, _shown)
    except NotKept:
        waiting = await run_in_threadpool(_waiting, request)
        if waiting is None:
            raise
        return waiting


def _waiting(request: Request) -> Response | None:
    """A lesson that was asked for by its code is waited for here."""
    studio, lesson_id = studio_of(request), request.path_params["lesson"]
    if studio.folder.is_made(lesson_id):
        return None
    asked, fault = studio.folder.asked(lesson_id), studio.folder.fault(lesson_id)
    if fault is not None:
        return page(request, "fault.html", status=422, fault=fault)
    told = {"asked": asked, "student": studio.filing.nickname(asked), "id": lesson_id}
    at = request.url.path
    return page(request, "making.html", status=202, at=at, **told, **state_of(studio, lesson_id))


def _shown(request: Request, part: Part) -> Response:
    filing = studio_of(request).filing
    folder = filing.folder
    lesson_id, number = request.path_params["lesson"], request.path_params["exercise"]
    asked = folder.asked(lesson_id)
    player = filing.player(asked)
    leave = filing.leave_of(player)
    assignment = part.asked
    manifest = manifest_of(folder.lesson(lesson_id))
    stems = part.stems
    sheet = assignment.sheet
    base = f"/lessons/{lesson_id}/{number}"
    told = {
        **_setting(part),
        "base": base,
        "title": sheet.title,
        "stems": [name for name in _STEMS if name in stems],
        "consent": leave == "given",
        "written": sheet.instrument.written_up.semitones,
    }
    return page(
        request,
        "stand.html",
        asked=asked,
        id=lesson_id,
        number=number,
        count=len(manifest["exercises"]),
        title=manifest["title"],
        key=part.key,
        keys=_keys(part.key),
        slowest=TEMPI[0],
        fastest=TEMPI[1],
        words=told["words"],
        sheet=sheet,
        systems=part.systems(),
        told=json.dumps(told),
        stems=told["stems"],
        consent=told["consent"],
        leave=leave,
        student="" if player is None else player.nickname,
        base=base,
        new_key=token_hex(16),
        takes=filing.takes(lesson_id, number),
    )


async def _setting_of(request: Request) -> Response:
    """Another tempo or key for the page that is open."""
    return await _with_part(request, lambda _, part: JSONResponse(_setting(part)))


async def _systems(request: Request) -> Response:
    """The systems of an exercise for a narrower or wider screen, as a piece of a page."""
    bars = request.query_params.get("bars", "4")
    count = int(bars) if bars in ("1", "2", "3", "4") else 4
    return await _with_part(request, lambda r, p: page(r, "_score.html", systems=p.systems(count)))


async def _stem(request: Request) -> Response:
    return await _with_part(request, _stem_of)


def _stem_of(request: Request, part: Part) -> Response:
    stems, name = part.stems, request.path_params["stem"]
    if name not in stems:
        raise NotKept(f"there is no stem {name[:40]!r}", remedy="Open the Stand again.")
    return FileResponse(stems[name], media_type="audio/flac")


async def _piece(request: Request) -> Response:
    """A second of a take that is being played."""
    studio, told = studio_of(request), request.path_params
    sound, rate = await request.body(), request.query_params.get("rate", "")

    def keep() -> tuple[str, Future[Part] | None]:
        studio.filing.check_leave(told["lesson"])
        name = _take_name(request)
        studio.pieces.put(name, told["piece"], sound)
        return name, _ask(request) if told["piece"] == 0 else None

    name, asked = await run_in_threadpool(keep)
    if asked is not None:
        studio.follower.begin(name, await asyncio.shield(asyncio.wrap_future(asked)))
    if rate in _RATES:
        studio.follower.hear(name, studio.pieces.at(name), int(rate))
    return Response(status_code=204)


async def _whole(request: Request) -> Response:
    """The player has stopped: put the pieces together, listen, and say what was heard; 409 with
    the numbers of the pieces that are missing."""
    telling = Telling.read((await request.body())[:_LONGEST_TELLING])
    studio, told = studio_of(request), request.path_params
    part = await studio.part(told["lesson"], told["exercise"], telling.tempo, telling.key)
    asked = await run_in_threadpool(_put_together, request, telling, part)
    if isinstance(asked, Response):
        return asked
    return verdict_page(request, await wait_for(*asked), "_verdict.html")


def _put_together(
    request: Request, telling: Telling, part: Part
) -> Response | tuple[Future[KeptTake], KeptTake]:
    studio, told = studio_of(request), request.path_params
    lesson_id, number, key = told["lesson"], told["exercise"], told["key"]
    name = _take_name(request)
    sound = b""
    if studio.filing.take(lesson_id, number, key) is None:
        missing = studio.pieces.missing(name, telling.pieces)
        if missing:
            return JSONResponse({"missing": missing}, 409)
        sound = studio.pieces.wav(name, telling)

    def followed(take: Take) -> Verdict | None:
        return studio.follower.finish(name, studio.pieces.at(name), telling, take)

    listening, kept = listen_to(
        studio, lesson_id, number, key, sound, part=part, telling=telling, followed=followed
    )
    listening.add_done_callback(lambda _: studio.pieces.drop(name))
    return listening, kept


def _take_name(request: Request) -> str:
    """A take's name among those that are coming in, for its lesson and exercise alone."""
    told = request.path_params
    lesson = studio_of(request).folder.lesson(told["lesson"]).name
    if not KEY.fullmatch(told["key"]):
        raise TakeError("a take came without its key", remedy="Open the Stand again.")
    return f"{lesson}-{told['exercise']:d}-{told['key']}"


def _app(request: Request) -> Response:
    """The manifest by which a phone keeps this Stand among its apps. Source: Web Application
    Manifest (W3C)."""
    lesson_id, number = request.path_params["lesson"], request.path_params["exercise"]
    title = manifest_of(studio_of(request).folder.made(lesson_id))["title"]
    told = {
        "name": f"{title}: the Stand",
        "short_name": "Stand",
        "start_url": f"/lessons/{lesson_id}/{number}",
        "scope": f"/lessons/{lesson_id}/",
        "display": "standalone",
        "background_color": "#f6f1e6",
        "theme_color": "#f6f1e6",
        "icons": [
            {"src": f"/static/mark-{size}.png", "sizes": f"{size}x{size}", "type": "image/png"}
            for size in (192, 512)
        ],
    }
    return JSONResponse(told, media_type="application/manifest+json")


def _worker(_: Request) -> Response:
    """The service worker, allowed to answer for the Stands although it lies elsewhere."""
    path = HERE / "static" / "offline.js"
    headers = {"service-worker-allowed": "/lessons/", "cache-control": "no-cache"}
    return FileResponse(path, media_type="text/javascript", headers=headers)


_AT = "/lessons/{lesson}/{exercise:int}"
ROUTES = [
    Route(_AT, _stand),
    Route(_AT + "/part", _setting_of),
    Route(_AT + "/systems", _systems),
    Route(_AT + "/stems/{stem}", _stem),
    Route(_AT + "/app.webmanifest", _app),
    Route(_AT + "/takes/{key}/pieces/{piece:int}", _piece, methods=["PUT"]),
    Route(_AT + "/takes/{key}/whole", _whole, methods=["POST"]),
    Route("/static/offline.js", _worker),
]
