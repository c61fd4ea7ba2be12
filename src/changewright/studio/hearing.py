"""A take at the Desk: the page beside the recording, the verdict, and the teacher's own ears."""

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from changewright.errors import ChangewrightError, InputError, NotKept
from changewright.store.records import Student
from changewright.studio.filing import KeptTake
from changewright.studio.forms import form_of, words
from changewright.studio.pages import page, see_other
from changewright.studio.part import Part
from changewright.studio.shapes import KEY
from changewright.studio.studio import Studio, studio_of
from changewright.studio.takes import verdict_view

__all__ = ["ROUTES"]

_WORDS = ("met", "missed")
_MOST_WORDS = 2000


def _found(request: Request) -> KeptTake:
    key = request.path_params["key"]
    take = studio_of(request).filing.by_key(key) if KEY.fullmatch(key) else None
    if take is None:
        raise NotKept("there is no such take", remedy="It may have been deleted.")
    return take


async def _take(request: Request) -> Response:
    kept = await run_in_threadpool(_found, request)
    part = await _part(studio_of(request), kept)
    return await run_in_threadpool(_shown, request, kept, part)


def _shown(request: Request, kept: KeptTake, part: Part | None) -> Response:
    studio = studio_of(request)
    lesson_id, number = kept.place
    filing = studio.filing
    verdict = None if kept.heard is None else verdict_view(kept.heard, kept.correction)
    player = filing.store.get(Student, kept.take.student)
    return page(
        request,
        "hearing.html",
        kept=kept,
        key=kept.key,
        verdict=verdict,
        is_coming=studio.ear.standing(kept.key).state != "unknown",
        score=None if part is None else _score(part),
        base=f"/lessons/{lesson_id}/{number}",
        player=player,
        received=f"{kept.take.received.astimezone():%A %-d %B %Y, %H:%M}",
        accesses=filing.accesses(kept.take)[:20],
        next_key=_next(studio, kept),
    )


async def _part(studio: Studio, kept: KeptTake) -> Part | None:
    """What was played, at the tempo and in the key it was played in; None where the lesson is
    gone."""
    lesson_id, number, tempo, key = kept.take.lesson.split("/")
    try:
        return await studio.part(lesson_id, int(number), int(tempo), key)
    except ChangewrightError:
        return None


def _score(part: Part) -> dict[str, Any]:
    """The page that was played."""
    sheet = part.asked.sheet
    return {
        "title": sheet.title,
        "instruction": sheet.instruction,
        "tempo": sheet.tempo_bpm,
        "key": part.key,
        "systems": part.systems(),
    }


def _next(studio: Studio, kept: KeptTake) -> str:
    """The next take of this player that waits for the teacher's word, the earliest first."""
    mine = [t for t in studio.filing.to_hear() if t.student == kept.take.student]
    return next((t.id for t in reversed(mine) if t.id != kept.key), "")


async def _correct(request: Request) -> Response:
    """The teacher's word: bars heard otherwise, and a note; it stands against the machine's."""
    studio, form = studio_of(request), await form_of(request)

    def corrected() -> str:
        kept = _found(request)
        studio.filing.correct(kept.take, _bars(form, kept), words(form, "words", _MOST_WORDS))
        return kept.key

    return see_other(f"/takes/{await run_in_threadpool(corrected)}")


def _bars(form: FormData, kept: KeptTake) -> dict[str, str]:
    """The bars that the teacher heard otherwise than the machine."""
    if kept.heard is None or "bars" not in kept.heard:
        return {}
    found = {}
    for bar in verdict_view(kept.heard)["bars"]:
        said = words(form, f"bar-{bar['number']}")
        if said and said not in _WORDS:
            raise InputError(f"can't call a bar {said[:20]!r}", remedy="Choose 'met' or 'not yet'.")
        if said and said != bar["word"]:
            found[str(bar["number"])] = said
    return found


def _delete(request: Request) -> Response:
    kept = _found(request)
    studio_of(request).filing.delete(kept.take)
    return see_other(f"/players/{kept.take.student}")


_AT = "/takes/{key}"
ROUTES = [
    Route(_AT, _take),
    Route(_AT + "/word", _correct, methods=["POST"]),
    Route(_AT + "/delete", _delete, methods=["POST"]),
]
