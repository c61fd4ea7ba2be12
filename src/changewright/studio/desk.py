"""The Desk: who plays, what there is to hear, and a lesson from a chart and a player."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from changewright.errors import InputError, NotKept
from changewright.lesson.family import families, family
from changewright.lesson.level import level, levels
from changewright.plan.week import WEEKDAYS
from changewright.store.records import Student, Take
from changewright.studio.books import unfinished_books
from changewright.studio.engraved import manifest_of
from changewright.studio.filing import KeptTake
from changewright.studio.folder import Asked, Folder
from changewright.studio.forms import form_of, number, words
from changewright.studio.making import ask_for, state_of, unmade
from changewright.studio.pages import page, see_other
from changewright.studio.shapes import NAME
from changewright.studio.shelf import chart_lines
from changewright.studio.studio import Studio, studio_of
from changewright.theory.instrument import instrument, instruments
from changewright.usecases.charts import parse_key
from changewright.usecases.variant import TEMPI

__all__ = [
    "KEYS",
    "MOST_SEED",
    "RECENT",
    "ROUTES",
    "TakeLine",
    "asked_from",
    "choices",
    "take_lines",
    "title_of",
]

KEYS = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
"""Twelve keys in the order of practice. Source: common practice, around the circle of fourths."""

MOST_SEED = 999_999
RECENT = 30
"""How many takes and lessons a list shows."""

_MOST_FAMILIES = 6


@dataclass(frozen=True, slots=True)
class TakeLine:
    """A take as a list tells it; ``heard`` says whether the teacher has a word on it."""

    key: str
    player: str
    title: str
    at: str
    said: str
    corrected: bool
    has_sound: bool


def asked_from(form: FormData, studio: Studio) -> Asked:
    """Read the Desk's form; raises :class:`InputError` for anything that can't be made.

    What is left open, instrument and level, is the player's own.
    """
    chart, _, version = str(form.get("chart", "")).partition("@")
    key, tempo = words(form, "key"), words(form, "tempo")
    player = _player(words(form, "player"), studio)
    played = words(form, "instrument") or (player.instrument if player else "")
    rung = words(form, "level") or (str(player.level) if player else "")
    asked = Asked(
        chart=_chart(chart),
        version=number(version or "0", "version", 0, 9999),
        instrument=instrument(played).id,
        level=level(number(rung, "level", 1, 99)).number,
        key=str(parse_key(key)) if key else None,
        seed=number(words(form, "seed") or "1", "seed", 0, MOST_SEED),
        player=player.id if player else "",
        families=_families([str(one) for one in form.getlist("family")]),
        tempo=number(tempo, "tempo", *TEMPI) if tempo else None,
    )
    studio.folder.source(asked.chart, asked.version)
    return asked


def _player(player: str, studio: Studio) -> Student | None:
    if not player:
        return None
    found = studio.store.all(Student, id=player)
    if not found:
        raise NotKept("this player is not on the roster", remedy="Choose one from the list.")
    return found[0]


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


def choices(folder: Folder) -> dict[str, Any]:
    """What the form for a lesson offers."""
    return {
        "charts": chart_lines(folder),
        "instruments": list(instruments()),
        "levels": [(n, one.name, one.who) for n, one in levels().items()],
        "keys": KEYS,
        "families": list(families().values()),
        "slowest": TEMPI[0],
        "fastest": TEMPI[1],
    }


def title_of(folder: Folder, asked: Asked) -> str:
    """A lesson's title: its chart's, or the chart's name where that is gone."""
    if folder.is_made(asked.id):
        return str(manifest_of(folder.lesson(asked.id))["title"])
    try:
        return folder.chart(asked.chart, asked.version).title
    except InputError:
        return asked.chart


def take_lines(studio: Studio, takes: Sequence[Take]) -> list[TakeLine]:
    """Takes as a list tells them."""
    players = {one.id: one.nickname for one in studio.store.all(Student)}
    kept = map(studio.filing.kept, takes)
    return [_take_line(one, players.get(one.take.student, "")) for one in kept]


def _take_line(one: KeptTake, player: str) -> TakeLine:
    heard = one.heard or {}
    said = heard.get("fault") or (heard.get("remarks") or {}).get("headline", "")
    return TakeLine(
        key=one.key,
        player=player,
        title=str(heard.get("title", "")) or "A take",
        at=f"{one.take.received.astimezone():%A %-d %B, %H:%M}",
        said=said if one.heard else "Not listened to yet.",
        corrected=one.correction is not None,
        has_sound=one.sound is not None,
    )


def _desk(request: Request) -> Response:
    studio = studio_of(request)
    players = studio.store.all(Student)
    fresh = studio.filing.to_hear()
    names = {one.id: one.nickname for one in players}
    lessons = studio.folder.lessons()[:RECENT]
    return page(
        request,
        "desk.html",
        players=[_player_line(studio, one, fresh) for one in players],
        takes=take_lines(studio, fresh[:RECENT]),
        lessons=[
            {
                "id": asked.id,
                "asked": asked,
                "title": title_of(studio.folder, asked),
                "player": names.get(asked.player, ""),
            }
            for asked in lessons
        ],
        making=[
            {
                "at": f"/lessons/{asked.id}",
                "title": title_of(studio.folder, asked),
                "player": names.get(asked.player, ""),
                **state_of(studio, asked.id),
            }
            for asked in unmade(studio)[:RECENT]
        ]
        + unfinished_books(studio),
        chosen=request.query_params.get("chart", "quayside-blues@0"),
        undo=next(iter(studio.store.history()), ""),
        **choices(studio.folder),
    )


def _player_line(studio: Studio, player: Student, fresh: Sequence[Take]) -> dict[str, Any]:
    today = studio.filing.today()
    ahead = (player.lesson_day - today.weekday()) % 7
    return {
        "player": player,
        "lesson": f"{WEEKDAYS[player.lesson_day]}{', today' if not ahead else ''}",
        "on": today + timedelta(days=ahead),
        "takes": sum(one.student == player.id for one in fresh),
        "consent": studio.filing.consent(player) is not None,
    }


async def _make(request: Request) -> Response:
    studio, form = studio_of(request), await form_of(request)

    def asked() -> str:
        return ask_for(studio, asked_from(form, studio))

    return see_other(f"/lessons/{await run_in_threadpool(asked)}")


def _undo(request: Request) -> Response:
    """Take back the latest change to the roster that was made here."""
    studio_of(request).store.undo()
    return see_other("/")


ROUTES = [
    Route("/", _desk),
    Route("/undo", _undo, methods=["POST"]),
    Route("/lessons", _make, methods=["POST"]),
]
