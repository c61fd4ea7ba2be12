"""The Stand: one exercise, the band, the microphone, the verdict."""

import json
from datetime import UTC, datetime
from secrets import token_hex
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from changewright.errors import NotKept, TakeError
from changewright.page import screen_svg
from changewright.studio.folder import KeptTake
from changewright.studio.pages import page, see_other
from changewright.studio.shapes import KEY
from changewright.studio.studio import Studio, studio_of
from changewright.usecases.lesson_folder import Assignment, load_assignment, load_manifest

__all__ = ["ROUTES", "media_of", "score_times", "verdict_view"]

_MAGIC = {
    b"RIFF": ".wav",
    b"fLaC": ".flac",
    b"OggS": ".ogg",
    b"ID3": ".mp3",
    b"\xff\xfb": ".mp3",
    b"\xff\xf3": ".mp3",
    b"MThd": ".mid",
}
_STEMS = ("count-in", "drums", "bass", "comping", "line")


def media_of(sound: bytes) -> str:
    """What a recording is, by its first bytes and not by its name."""
    return next((media for start, media in _MAGIC.items() if sound.startswith(start)), ".sound")


def score_times(asked: Assignment) -> dict[str, Any]:
    """When each bar sounds, in seconds from the first sample of the stems."""
    sheet, clock = asked.sheet, asked.clock
    return {
        "lead_s": float(clock.lead_in) * clock.quarter_s,
        "bars": [
            {
                "number": bar.number,
                "start_s": round(clock.to_seconds(bar.start), 6),
                "end_s": round(clock.to_seconds(bar.end), 6),
            }
            for bar in sheet.bars
        ],
    }


def verdict_view(heard: dict[str, Any]) -> dict[str, Any]:
    """A hearing's document as its page tells it: a word for each bar, and the remarks."""
    if "fault" in heard:
        return {"fault": heard["fault"]}
    said = {b["bar"]: b for b in heard["remarks"]["bars"]}
    return {
        "fault": "",
        "judged": heard["judged"],
        "reason": heard["reason"],
        "remarks": heard["remarks"],
        "bars": [_bar(one, said) for one in heard["bars"] if one["asked"]],
    }


def _bar(one: dict[str, Any], said: dict[int, Any]) -> dict[str, Any]:
    told = said.get(one["bar"])
    word = "missed" if one["missed"] else "unsure" if one["unsure"] else "met"
    return {"number": one["bar"], "word": word, "text": "" if told is None else told["text"]}


def _stand(request: Request) -> Response:
    studio, (lesson_id, number) = studio_of(request), _place(request)
    folder = studio.folder
    asked = folder.asked(lesson_id)
    assignment = load_assignment(folder.lesson(lesson_id), number)
    manifest = load_manifest(folder.lesson(lesson_id))
    stems = manifest["exercises"][number - 1]["files"]["stems"]
    base = f"/lessons/{lesson_id}/{number}"
    told = {
        **score_times(assignment),
        "base": base,
        "stems": [name for name in _STEMS if name in stems],
        "consent": folder.has_consent(lesson_id),
    }
    return page(
        request,
        "stand.html",
        asked=asked,
        id=lesson_id,
        number=number,
        count=len(manifest["exercises"]),
        title=manifest["title"],
        key=manifest["key"],
        sheet=assignment.sheet,
        systems=screen_svg(assignment.sheet),
        told=json.dumps(told),
        stems=told["stems"],
        consent=told["consent"],
        base=base,
        new_key=token_hex(16),
        takes=folder.takes(lesson_id, number),
    )


def _place(request: Request) -> tuple[str, int]:
    return request.path_params["lesson"], request.path_params["exercise"]


def _stem(request: Request) -> Response:
    lesson_id, number = _place(request)
    folder = studio_of(request).folder.lesson(lesson_id)
    exercises = load_manifest(folder)["exercises"]
    stems = exercises[number - 1]["files"]["stems"] if 1 <= number <= len(exercises) else {}
    name = request.path_params["stem"]
    if name not in stems:
        raise NotKept(f"there is no stem {name[:40]!r}", remedy="Open the Stand again.")
    return FileResponse(folder / stems[name], media_type="audio/flac")


async def _agree(request: Request) -> Response:
    folder, lesson_id = studio_of(request).folder, request.path_params["lesson"]
    folder.keep_consent(lesson_id, datetime.now(UTC).isoformat(timespec="seconds"))
    return Response(status_code=204)


async def _record(request: Request) -> Response:
    """A take as the page's recorder sends it: the sound itself, under a key of its own."""
    key, sound = request.query_params.get("key", ""), await request.body()
    take = await _taken(request, key, sound)
    return _verdict(request, take, "_verdict.html")


async def _upload(request: Request) -> Response:
    """A recording made elsewhere, sent as a form."""
    lesson_id, number = _place(request)
    async with request.form(max_files=1, max_fields=10) as form:
        upload = form.get("recording")
        if not isinstance(upload, UploadFile) or not upload.filename:
            raise TakeError("no recording was chosen", remedy="Choose a WAV, FLAC, Ogg or MP3.")
        sound, key, agrees = await upload.read(), str(form.get("key", "")), form.get("agree")
    if agrees == "yes":
        await _agree(request)
    take = await _taken(request, key, sound)
    return see_other(f"/lessons/{lesson_id}/{number}/takes/{take.key}")


async def _taken(request: Request, key: str, sound: bytes) -> KeptTake:
    if not KEY.fullmatch(key):
        raise TakeError("a take came without its key", remedy="Open the Stand again.")
    if not sound:
        raise TakeError("the recording is empty", remedy="Record it again.")
    studio, (lesson_id, number) = studio_of(request), _place(request)
    if not studio.takes.allows():
        raise TakeError("more takes came than can be heard", remedy="Wait a minute, send it again.")

    def heard() -> KeptTake:
        return _hear(studio, lesson_id, number, key, sound)

    return await run_in_threadpool(heard)


def _hear(studio: Studio, lesson_id: str, number: int, key: str, sound: bytes) -> KeptTake:
    """Keep it first, then listen; a take that was heard before is not heard twice."""
    folder = studio.folder
    load_assignment(folder.lesson(lesson_id), number)
    path = folder.keep_take(lesson_id, number, key, media_of(sound), sound)
    kept = folder.take(lesson_id, number, key)
    if kept is None or kept.heard is None:
        try:
            heard = studio.listener.hear(path, folder.lesson(lesson_id), number)
        except TakeError as fault:
            heard = {"fault": str(fault).replace(str(path), "your recording")}
        folder.keep_hearing(path, heard)
        kept = KeptTake(key, path, heard)
    return kept


def _verdict(request: Request, take: KeptTake, template: str) -> Response:
    lesson_id, number = _place(request)
    folder = studio_of(request).folder
    sheet = load_assignment(folder.lesson(lesson_id), number).sheet
    return page(
        request,
        template,
        verdict=None if take.heard is None else verdict_view(take.heard),
        key=take.key,
        base=f"/lessons/{lesson_id}/{number}",
        sheet=sheet,
        asked=folder.asked(lesson_id),
    )


def _found(request: Request) -> KeptTake:
    lesson_id, number = _place(request)
    key = request.path_params["key"]
    take = studio_of(request).folder.take(lesson_id, number, key) if KEY.fullmatch(key) else None
    if take is None:
        raise NotKept("there is no such take", remedy="It may have been deleted.")
    return take


def _take(request: Request) -> Response:
    return _verdict(request, _found(request), "take.html")


def _sound(request: Request) -> Response:
    return FileResponse(_found(request).path, media_type="audio/wav")


def _delete(request: Request) -> Response:
    lesson_id, number = _place(request)
    studio_of(request).folder.delete_take(lesson_id, number, _found(request).key)
    return see_other(f"/lessons/{lesson_id}/{number}")


_AT = "/lessons/{lesson}/{exercise:int}"
ROUTES = [
    Route(_AT, _stand),
    Route("/lessons/{lesson}/consent", _agree, methods=["POST"]),
    Route(_AT + "/stems/{stem}", _stem),
    Route(_AT + "/takes", _record, methods=["POST"]),
    Route(_AT + "/recordings", _upload, methods=["POST"]),
    Route(_AT + "/takes/{key}", _take),
    Route(_AT + "/takes/{key}/sound", _sound),
    Route(_AT + "/takes/{key}/delete", _delete, methods=["POST"]),
]
