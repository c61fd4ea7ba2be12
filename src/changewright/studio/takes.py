"""What comes of a recording: kept, listened to, and told bar by bar."""

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import asdict
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from changewright.errors import ChangewrightError, NotKept, TakeError
from changewright.jobs.bounded import Hand
from changewright.store.records import Correction, Take
from changewright.studio.engraved import assignment_of
from changewright.studio.filing import KeptTake, hear
from changewright.studio.follower import Verdict
from changewright.studio.guests import is_guest
from changewright.studio.pages import page, see_other
from changewright.studio.part import Part
from changewright.studio.pieces import Telling, clock_words
from changewright.studio.shapes import KEY
from changewright.studio.studio import Studio, studio_of

__all__ = [
    "ROUTES",
    "VERDICT_S",
    "listen_to",
    "media_of",
    "take_up",
    "verdict_page",
    "verdict_view",
    "wait_for",
]

VERDICT_S = 25.0
"""How long a page waits for a verdict, in seconds, before it says that it comes later."""

_LOG = logging.getLogger(__name__)
_MEDIA = {
    "wav": "audio/wav",
    "flac": "audio/flac",
    "ogg": "audio/ogg",
    "mp3": "audio/mpeg",
    "mid": "audio/midi",
}
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


def verdict_view(heard: dict[str, Any], correction: Correction | None = None) -> dict[str, Any]:
    """A hearing's document as its page tells it: a word for each bar, and the remarks. Where the
    teacher heard a bar otherwise, his word stands."""
    if "fault" in heard:
        return {"fault": heard["fault"], "words": correction.words if correction else ""}
    said = {b["bar"]: b for b in heard["remarks"]["bars"]}
    mended = correction.bars if correction else {}
    return {
        "fault": "",
        "words": correction.words if correction else "",
        "judged": heard["judged"],
        "reason": heard["reason"],
        "clock": clock_words(heard.get("recorder")),
        "part": heard.get("part"),
        "remarks": heard["remarks"],
        "bars": [_bar(one, said, mended) for one in heard["bars"] if one["asked"]],
    }


def _bar(one: dict[str, Any], said: dict[int, Any], mended: dict[str, Any]) -> dict[str, Any]:
    told = said.get(one["bar"])
    word = "missed" if one["missed"] else "unsure" if one["unsure"] else "met"
    teachers = mended.get(str(one["bar"]))
    return {
        "number": one["bar"],
        "word": teachers or word,
        "text": "" if told is None or teachers else told["text"],
        "by_teacher": teachers is not None,
        "machine": word,
    }


def _place(request: Request) -> tuple[str, int]:
    return request.path_params["lesson"], request.path_params["exercise"]


async def _agree(request: Request) -> Response:
    """The player agrees, before the first recording; a guardian's word comes by the teacher."""
    filing, lesson_id = studio_of(request).filing, request.path_params["lesson"]
    await run_in_threadpool(filing.agree, lesson_id)
    return Response(status_code=204)


async def _record(request: Request) -> Response:
    """A take as the page's recorder sends it: the sound itself, under a key of its own."""
    key, sound = request.query_params.get("key", ""), await request.body()
    take = await _taken(request, key, sound)
    return verdict_page(request, take, "_verdict.html")


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

    tempo, part_key = request.query_params.get("tempo", ""), request.query_params.get("in")
    bpm = int(tempo) if tempo.isdecimal() and len(tempo) <= 3 else None

    part = await studio.part(lesson_id, number, bpm, part_key)

    def keep() -> tuple[Future[KeptTake], KeptTake]:
        return listen_to(studio, lesson_id, number, key, sound, part=part)

    return await wait_for(*await run_in_threadpool(keep))


def listen_to(
    studio: Studio,
    lesson_id: str,
    number: int,
    key: str,
    sound: bytes,
    *,
    part: Part,
    telling: Telling | None = None,
    followed: Callable[[Take], Verdict | None] = lambda _: None,
) -> tuple[Future[KeptTake], KeptTake]:
    """Keep a take, then have it listened to in its turn; one that was heard before is not heard
    twice.

    ``part`` is what was played, ``telling`` what the Stand's recorder knew of its clock;
    ``followed`` gives what was heard already while it was played, if anything. When this returns,
    the recording is safe; the future gives the take with what was heard, and beside it is the take
    as kept: both for :func:`wait_for`.
    """
    take = studio.filing.keep(lesson_id, number, key, media_of(sound), sound, part)
    kept = studio.filing.kept(take)
    if kept.heard is not None:
        done: Future[KeptTake] = Future()
        done.set_result(kept)
        return done, kept

    def work(hand: Hand) -> KeptTake:
        heard, evidence = followed(kept.take) or hear(hand, kept, part)
        return _file(studio, kept, part, telling, heard, evidence)

    return studio.ear.ask(kept.key, _logged(work)), kept


def _logged(work: Callable[[Hand], KeptTake]) -> Callable[[Hand], KeptTake]:
    """What goes wrong with us, and not with a take, is told where the studio was started; the take
    stays unheard, and its page offers to listen again."""

    def done(hand: Hand) -> KeptTake:
        try:
            return work(hand)
        except Exception:
            _LOG.exception("a take could not be listened to")
            raise

    return done


def _file(
    studio: Studio,
    kept: KeptTake,
    part: Part,
    telling: Telling | None,
    heard: dict[str, Any],
    evidence: tuple[Any, ...],
) -> KeptTake:
    heard |= {"part": part.told, "recorder": None if telling is None else asdict(telling)}
    studio.filing.file(kept.take, heard, evidence)
    return studio.filing.kept(kept.take)


async def wait_for(listening: Future[KeptTake], kept: KeptTake) -> KeptTake:
    """The take with what was heard; as it was kept, where that takes long and the verdict comes
    later, or where nothing comes of it.

    Nobody's thread waits meanwhile, so that a class of takes doesn't hold up anybody's page.
    """
    heard = asyncio.shield(asyncio.wrap_future(listening))
    done, _ = await asyncio.wait([heard], timeout=VERDICT_S)
    return kept if not done or heard.exception() else heard.result()


def take_up(studio: Studio) -> int:
    """Listen to what a studio that was stopped had kept and not heard; how many takes that are."""
    waiting = studio.filing.unheard()
    for take in waiting:
        _hear_again(studio, studio.filing.kept(take))
    return len(waiting)


def _hear_again(studio: Studio, kept: KeptTake) -> Future[KeptTake]:
    """Have a take listened to that is kept already."""
    lesson_id, number, tempo, key = kept.take.lesson.split("/")

    def work(hand: Hand) -> KeptTake:
        try:
            part = studio.ask_part(lesson_id, int(number), int(tempo), key).result()
        except ChangewrightError as fault:  # the lesson is gone: the take stays, unheard
            studio.filing.file(kept.take, {"fault": str(fault)})
            return studio.filing.kept(kept.take)
        heard, evidence = hear(hand, kept, part)
        return _file(studio, kept, part, None, heard, evidence)

    return studio.ear.ask(kept.key, _logged(work))


def verdict_page(request: Request, take: KeptTake, template: str) -> Response:
    """What was heard in a take, as a page or as a piece of one."""
    lesson_id, number = _place(request)
    studio = studio_of(request)
    is_coming = studio.ear.standing(take.key).state != "unknown"
    if take.heard is None and not is_coming:
        take = studio.filing.kept(take.take)  # it may have been heard this instant
    sheet = assignment_of(studio.folder.made(lesson_id), number).sheet
    return page(
        request,
        template,
        status=202 if take.heard is None and is_coming else 200,  # accepted, and still at it
        is_coming=is_coming,
        verdict=None if take.heard is None else verdict_view(take.heard, take.correction),
        take=take.take,
        has_sound=take.sound is not None,
        key=take.key,
        base=f"/lessons/{lesson_id}/{number}",
        sheet=sheet,
        student=studio.filing.nickname(studio.folder.asked(lesson_id)),
    )


def _found(request: Request) -> KeptTake:
    lesson_id, number = _place(request)
    key = request.path_params["key"]
    take = studio_of(request).filing.take(lesson_id, number, key) if KEY.fullmatch(key) else None
    if take is None:
        raise NotKept("there is no such take", remedy="It may have been deleted.")
    return take


def _take(request: Request) -> Response:
    return verdict_page(request, _found(request), "take.html")


def _again(request: Request) -> Response:
    """Listen to a take that could not be listened to, once more."""
    lesson_id, number = _place(request)
    studio, take = studio_of(request), _found(request)
    if take.heard is None and studio.takes.allows():
        _hear_again(studio, take)
    return see_other(f"/lessons/{lesson_id}/{number}/takes/{take.key}")


def _list(request: Request) -> Response:
    """The takes of an exercise, as a piece of its Stand."""
    lesson_id, number = _place(request)
    takes = studio_of(request).filing.takes(lesson_id, number)
    return page(request, "_my_takes.html", takes=takes, base=f"/lessons/{lesson_id}/{number}")


def _sound(request: Request) -> Response:
    """The recording itself; who came to it is noted. PITFALL: a player asks for it in several
    ranges, of which the first alone is a new listening."""
    take = _found(request)
    if take.sound is None:
        raise NotKept("this recording is no longer there", remedy="What was heard in it is.")
    ranged = request.headers.get("range", "bytes=0-")
    if request.method == "GET" and ranged.startswith("bytes=0-"):
        who = "the player" if is_guest(request.scope) else "the teacher"
        studio_of(request).filing.witness(take.take, who, "listened")
    return FileResponse(
        take.sound, media_type=_MEDIA.get(take.take.media, "application/octet-stream")
    )


def _delete(request: Request) -> Response:
    lesson_id, number = _place(request)
    studio_of(request).filing.delete(_found(request).take)
    return see_other(f"/lessons/{lesson_id}/{number}")


_AT = "/lessons/{lesson}/{exercise:int}"
ROUTES = [
    Route("/lessons/{lesson}/consent", _agree, methods=["POST"]),
    Route(_AT + "/takes", _list),
    Route(_AT + "/takes", _record, methods=["POST"]),
    Route(_AT + "/recordings", _upload, methods=["POST"]),
    Route(_AT + "/takes/{key}", _take),
    Route(_AT + "/takes/{key}/again", _again, methods=["POST"]),
    Route(_AT + "/takes/{key}/sound", _sound),
    Route(_AT + "/takes/{key}/delete", _delete, methods=["POST"]),
]
