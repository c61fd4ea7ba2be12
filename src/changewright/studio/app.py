"""The studio as one web application."""

from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from pathlib import Path
from typing import get_args

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from changewright.errors import ChangewrightError
from changewright.page.look import Face, font_bytes
from changewright.studio import desk, shelf, stand, takes
from changewright.studio.door import COOKIE, Door
from changewright.studio.folder import Folder
from changewright.studio.guard import Guard
from changewright.studio.guests import GUEST, VALID_S
from changewright.studio.listener import Listener
from changewright.studio.pages import HERE, fault_page, page, see_other
from changewright.studio.studio import Studio, studio_of

__all__ = ["LOCAL", "make_app"]

LOCAL = ("127.0.0.1", "localhost", "::1")
"""The names by which a machine calls itself."""


def make_app(
    folder: Path,
    *,
    hosts: Collection[str] = LOCAL,
    door: Door | None = None,
    listener: Listener | None = None,
) -> Guard:
    """The studio over a folder, with its guard before it.

    ``hosts`` are the names by which it may be called; without a ``door`` everybody who can reach
    it may come in.
    """
    studio = Studio(Folder(folder), listener or Listener(), door)
    app = Starlette(
        routes=[
            *desk.ROUTES,
            *stand.ROUTES,
            *takes.ROUTES,
            *shelf.ROUTES,
            Route("/login", _login, methods=["GET", "POST"]),
            Route("/logout", _logout, methods=["POST"]),
            Route("/join/{token}", _join),
            Route("/fonts/{face}.otf", _font),
            Mount("/static", StaticFiles(directory=HERE / "static")),
        ],
        exception_handlers={ChangewrightError: fault_page, HTTPException: _wrong_address},
        lifespan=_lifespan,
    )
    app.state.studio = studio
    return Guard(app, hosts=hosts, admits=door.admits if door else lambda _: True)


@asynccontextmanager
async def _lifespan(app: Starlette) -> AsyncIterator[None]:
    studio: Studio = app.state.studio
    await run_in_threadpool(studio.listener.warm)
    try:
        yield
    finally:
        await run_in_threadpool(studio.listener.close)


async def _wrong_address(request: Request, fault: Exception) -> Response:
    status = fault.status_code if isinstance(fault, HTTPException) else 500
    said = {404: "There is no such page.", 405: "That can't be done here."}
    told = {"what": said.get(status, "That can't be done."), "where": "", "source": ""}
    told |= {"caret": "", "remedy": "Go back to the Desk."}
    return page(request, "fault.html", status=status, fault={**told, "line": None, "bar": None})


async def _login(request: Request) -> Response:
    door = studio_of(request).door
    if door is None:
        return see_other("/")
    if request.method == "GET":
        return page(request, "login.html", said="")
    form = await request.form(max_files=0, max_fields=4)
    if not door.throttle.allows():
        said = "Too many tries. Wait a minute."
        return page(request, "login.html", status=429, said=said)
    token = await run_in_threadpool(door.opens, str(form.get("password", ""))[:1000])
    if token is None:
        return page(request, "login.html", status=403, said="That isn't the password.")
    response = see_other("/")
    secure = request.url.scheme == "https"
    response.set_cookie(COOKIE, token, httponly=True, samesite="strict", secure=secure)
    return response


async def _logout(request: Request) -> Response:
    door = studio_of(request).door
    if door is not None:
        door.closes(request.cookies.get(COOKIE, ""))
    response = see_other("/login")
    response.delete_cookie(COOKIE)
    return response


def _join(request: Request) -> Response:
    """A student's link, swapped for a cookie, so that it isn't sent about with every page."""
    door, token = studio_of(request).door, request.path_params["token"]
    lesson = None if door is None else door.guests.lesson_of(token)
    if lesson is None:
        told = {"what": "This link opens nothing (any more).", "where": "", "source": ""}
        told |= {"caret": "", "remedy": "Ask your teacher for a new one."}
        fault = {**told, "line": None, "bar": None}
        return page(request, "fault.html", status=404, fault=fault)
    response = see_other(f"/lessons/{lesson}/1")
    secure = request.url.scheme == "https"
    # PITFALL: a strict cookie isn't sent when the link is followed from a message.
    response.set_cookie(
        GUEST, token, max_age=round(VALID_S), httponly=True, samesite="lax", secure=secure
    )
    return response


def _font(request: Request) -> Response:
    face = request.path_params["face"]
    for known in get_args(Face):
        if face == known:
            return Response(font_bytes(known), media_type="font/otf")
    raise HTTPException(404)
