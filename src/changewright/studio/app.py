"""The studio as one web application."""

import asyncio
from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
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
from changewright.store.leaving import expire_recordings
from changewright.store.store import Store
from changewright.studio import (
    books,
    description,
    desk,
    hearing,
    lessons,
    links,
    making,
    players,
    scanned,
    shelf,
    stand,
    style,
    takes,
    week,
)
from changewright.studio.door import COOKIE, Door, Throttles
from changewright.studio.filing import Filing
from changewright.studio.folder import Folder
from changewright.studio.follower import Follower
from changewright.studio.guard import Guard
from changewright.studio.hands import Hands, local_hands, warm
from changewright.studio.pages import HERE, fault_page, page, see_other
from changewright.studio.part import Parts
from changewright.studio.pieces import Pieces
from changewright.studio.press import take_up_books
from changewright.studio.serve import LOCAL
from changewright.studio.studio import Studio, studio_of
from changewright.usecases.roster import KEPT_FOR, roster

__all__ = ["CHANGES_A_MINUTE", "make_app"]

_TIDY_S = 6 * 3600.0
CHANGES_A_MINUTE = 3000
"""How often one address may send something in a minute, where others can come in: a class behind
one address, fifty Stands that send a take in pieces of a second, and nobody in a loop."""


def make_app(
    folder: Path,
    *,
    hosts: Collection[str] = LOCAL,
    door: Door | None = None,
    store: Store | None = None,
    hands: Hands | None = None,
    root_url: str | None = None,
    keep_for: timedelta = KEPT_FOR,
) -> Guard:
    """The studio over a folder, with its guard before it.

    ``hosts`` are the names by which it may be called; without a ``door`` everybody who can reach
    it may come in. ``store`` is the roster's, one in the folder itself if none; ``hands`` do what
    takes long, as many processes as there are cores if none. ``root_url`` is the address by which
    others find the studio, for codes and links; recordings are kept for ``keep_for``.
    """
    store = store or roster(folder, lambda: datetime.now(UTC), session="studio")
    hands = hands or local_hands()
    studio = Studio(
        Filing(Folder(folder), store, keep_for),
        hands.ear,
        hands.maker,
        hands.press,
        Follower(hands.follower),
        Parts(folder, hands.mover),
        Pieces(folder),
        door,
        root_url,
    )
    app = Starlette(
        routes=[
            *desk.ROUTES,
            *players.ROUTES,
            *week.ROUTES,
            *hearing.ROUTES,
            *lessons.ROUTES,
            *scanned.ROUTES,
            *links.ROUTES,
            *description.ROUTES,
            *style.ROUTES,
            *stand.ROUTES,
            *takes.ROUTES,
            *shelf.ROUTES,
            *books.ROUTES,
            Route("/login", _login, methods=["GET", "POST"]),
            Route("/logout", _logout, methods=["POST"]),
            Route("/fonts/{face}.otf", _font),
            Mount("/static", StaticFiles(directory=HERE / "static")),
        ],
        exception_handlers={ChangewrightError: fault_page, HTTPException: _wrong_address},
        lifespan=_lifespan,
    )
    app.state.studio = studio
    return Guard(
        app,
        hosts=hosts,
        admits=door.admits if door else lambda _: True,
        changes=Throttles(CHANGES_A_MINUTE, 60.0).allows if door else lambda _: True,
    )


@asynccontextmanager
async def _lifespan(app: Starlette) -> AsyncIterator[None]:
    """Go on with what was not finished, warm the ear up, and let recordings expire each night.

    What was left half-made is cleared away before the first request can make anything.
    """
    studio: Studio = app.state.studio
    await run_in_threadpool(_take_up, studio)
    warming = asyncio.create_task(run_in_threadpool(_wake, studio))
    tidying = asyncio.create_task(_tidy(studio))
    try:
        yield
    finally:
        tidying.cancel()
        await warming
        await run_in_threadpool(studio.close)


def _wake(studio: Studio) -> None:
    for number in range(studio.ear.hands):
        studio.ear.ask(f"warm {number}", warm)
    studio.follower.turns.ask("warm", warm)


def _take_up(studio: Studio) -> None:
    making.take_up(studio)
    takes.take_up(studio)
    take_up_books(studio)


async def _tidy(studio: Studio) -> None:
    while True:
        await asyncio.sleep(_TIDY_S)
        await run_in_threadpool(expire_recordings, studio.store, studio.filing.today())


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


def _font(request: Request) -> Response:
    face = request.path_params["face"]
    for known in get_args(Face):
        if face == known:
            return Response(font_bytes(known), media_type="font/otf")
    raise HTTPException(404)
