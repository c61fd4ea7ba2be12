"""What comes of a recording: kept, listened to, and told bar by bar."""

from datetime import UTC, datetime
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from changewright.errors import NotKept, TakeError
from changewright.studio.folder import KeptTake
from changewright.studio.pages import page, see_other
from changewright.studio.shapes import KEY
from changewright.studio.studio import Studio, studio_of
from changewright.usecases.lesson_folder import load_assignment

__all__ = ["ROUTES", "media_of", "verdict_view"]

_MAGIC = {
    b"RIFF": ".wav",
    b"fLaC": ".flac",
    b"OggS": ".ogg",
    b"ID3": ".mp3",
    b"\xff\xfb": ".mp3",
    b"\xff\xf3": ".mp3",
    b"MThd": ".mid",
}


def media_of(sound: bytes) -> str:
    """What a recording is, by its first bytes and not by its name."""
    return next((media for start, media in _MAGIC.items() if sound.startswith(start)), ".sound")


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


def _place(request: Request) -> tuple[str, int]:
    return request.path_params["lesson"], request.path_params["exercise"]


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
    Route("/lessons/{lesson}/consent", _agree, methods=["POST"]),
    Route(_AT + "/takes", _record, methods=["POST"]),
    Route(_AT + "/recordings", _upload, methods=["POST"]),
    Route(_AT + "/takes/{key}", _take),
    Route(_AT + "/takes/{key}/sound", _sound),
    Route(_AT + "/takes/{key}/delete", _delete, methods=["POST"]),
]
