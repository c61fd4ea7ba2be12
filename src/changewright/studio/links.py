"""A student's link and what it opens: his lessons, on his own device."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from changewright.errors import InputError
from changewright.page.code import code_svg
from changewright.store.records import Student
from changewright.studio.desk import title_of
from changewright.studio.engraved import manifest_of
from changewright.studio.guests import GUEST, VALID_S, guest_of
from changewright.studio.pages import page, see_other
from changewright.studio.shapes import LESSON
from changewright.studio.studio import studio_of

__all__ = ["ROUTES", "link_view"]


def link_view(request: Request, player: str, lesson_id: str = "") -> dict[str, str]:
    """A new link for a player, and its code to scan; raises :class:`InputError` where nobody else
    can come in."""
    studio = studio_of(request)
    if studio.door is None:
        raise InputError(
            "only this machine can come in, so a link would open nothing",
            remedy="Start the studio with --host, and a password.",
        )
    base = studio.root_url or str(request.base_url).rstrip("/")
    token = studio.door.guests.invite(player)
    address = f"{base}/join/{token}" + (f"?lesson={lesson_id}" if lesson_id else "")
    return {"address": address, "code": code_svg(address)}


def _join(request: Request) -> Response:
    """A student's link, swapped for a cookie, so that it isn't sent about with every page."""
    door, token = studio_of(request).door, request.path_params["token"]
    player = None if door is None else door.guests.player_of(token)
    if door is None or player is None:
        allowed = door is None or door.guessing.allows()
        told = {"what": "This link opens nothing (any more).", "where": "", "source": ""}
        told |= {"caret": "", "remedy": "Ask your teacher for a new one."}
        fault = {**told, "line": None, "column": None, "bar": None}
        return page(request, "fault.html", status=404 if allowed else 429, fault=fault)
    lesson = request.query_params.get("lesson", "")
    response = see_other(f"/lessons/{lesson}/1" if LESSON.fullmatch(lesson) else "/mine")
    # PITFALL: a strict cookie isn't sent when the link is followed from a message.
    response.set_cookie(
        GUEST,
        token,
        max_age=round(VALID_S),
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )
    return response


def _mine(request: Request) -> Response:
    """A student's own lessons."""
    studio, player = studio_of(request), guest_of(request.scope)
    if not player:
        return see_other("/")
    found = studio.store.all(Student, id=player)
    lessons = [
        {
            "id": asked.id,
            "title": title_of(studio.folder, asked),
            "asked": asked,
            "exercises": [
                one["sheet"]["title"]
                for one in manifest_of(studio.folder.lesson(asked.id))["exercises"]
            ],
        }
        for asked in studio.folder.lessons(player)
    ]
    nickname = found[0].nickname if found else ""
    return page(request, "mine.html", nickname=nickname, lessons=lessons)


ROUTES = [Route("/join/{token}", _join), Route("/mine", _mine)]
