"""The exercise that a printed code names: the lesson that holds it, or one that is composed again.

A code's address ends in the label at the page's foot, ``root-up/L2/F/7-3fa9c2``: family, level,
key, seed, and a digest over the whole recipe. What the label leaves out, the chart, the instrument
and the tempo, is found by trying what the studio knows against the digest. So a page
of a lesson made at the terminal, or of a book's edition for one instrument, opens here too, as long
as its chart is on the Shelf; one made with a teacher's own phrases, instruments or levels does not,
nor one of an edition for a whole family of instruments, whose line lies well for all of them.
"""

import asyncio
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from changewright.chart.shelf import shelf
from changewright.errors import ChangewrightError, InputError, NotKept
from changewright.jobs.bounded import Hand, Stopped
from changewright.lesson.family import families, family
from changewright.music.sheet import Recipe
from changewright.store.records import Student
from changewright.studio.engraved import manifest_of
from changewright.studio.folder import Asked, Folder
from changewright.studio.forms import form_of, words
from changewright.studio.guests import guest_of
from changewright.studio.making import ask_for
from changewright.studio.pages import page, see_other
from changewright.studio.studio import Studio, studio_of
from changewright.theory.instrument import instruments
from changewright.usecases.charts import open_form
from changewright.usecases.variant import TEMPI

__all__ = ["ROUTES", "Label", "Source", "found_by"]

_LABEL = re.compile(
    r"(?P<family>[a-z0-9-]{1,40})/L(?P<level>[1-9])/(?P<key>[A-G][b#]?m?)/"
    r"(?P<seed>[0-9]{1,6})-(?P<digest>[0-9a-f]{6})"
)
_MOST_VERSIONS = 20
_UNKNOWN = (
    "It may be another player's. A page that was made elsewhere opens here when its chart is on "
    "the Shelf; one with phrases, instruments or levels of your own does not, nor one of a book's "
    "edition for several instruments."
)


@dataclass(frozen=True, slots=True)
class Label:
    """A label, read."""

    text: str
    family: str
    level: int
    key: str
    seed: int

    @staticmethod
    def read(text: str) -> "Label | None":
        """Read a label; None for what is none."""
        told = _LABEL.fullmatch(text)
        if told is None or told["family"] not in families():
            return None
        return Label(text, told["family"], int(told["level"]), told["key"], int(told["seed"]))


@dataclass(frozen=True, slots=True)
class Source:
    """A chart that an exercise may have been made of: its name and version on the Shelf, and what
    it is opened by."""

    name: str
    version: int
    opened_by: str


def _sources(folder: Folder) -> Iterator[Source]:
    """The teacher's charts in their latest versions, then the starting shelf."""
    for name in folder.own_charts():
        for version in folder.versions(name)[:_MOST_VERSIONS]:
            yield Source(name, version, str(folder.chart_path(name, version)))
    for name in shelf():
        yield Source(name, 0, name)


@lru_cache(64)
def found_by(label: Label, sources: tuple[Source, ...]) -> Asked | None:
    """What to ask for to have an exercise with this label; None where no chart gives it.

    The level's own tempo is tried first, on every chart and instrument, then all others.
    """
    digests = [(one, _digest(one.opened_by, label.key)) for one in sources]
    digests = [(one, digest) for one, digest in digests if digest]
    for tempi in ((0,), range(TEMPI[0], TEMPI[1] + 1)):
        for one, digest in digests:
            match = _match(label, digest, tempi)
            if match is not None:
                played, bpm = match
                return Asked(
                    chart=one.name,
                    version=one.version,
                    instrument=played,
                    level=label.level,
                    key=label.key,
                    seed=label.seed,
                    families=(label.family,),
                    tempo=bpm or None,
                )
    return None


def _match(label: Label, digest: str, tempi: Iterable[int]) -> tuple[str, int] | None:
    for played in instruments():
        for bpm in tempi:
            recipe = Recipe(
                digest, label.family, label.level, label.key, played, label.seed, tempo_bpm=bpm
            )
            if recipe.label == label.text:
                return played, bpm
    return None


def _digest(source: str, key: str) -> str:
    try:
        return open_form(source, key).digest
    except ChangewrightError:
        return ""  # a chart without a key can't be moved


async def _wanted(request: Request) -> Asked:
    """What the label asks for, for nobody yet; raises :class:`NotKept`. It is looked for by
    whoever moves exercises: thousands of recipes are tried."""
    studio, label = studio_of(request), Label.read(request.path_params["label"])
    if label is None:
        raise NotKept("no lesson here has this exercise", remedy=_UNKNOWN)
    if not studio.scans.allows():
        raise InputError("too many codes were scanned", remedy="Wait a minute.")
    sources = await run_in_threadpool(lambda: tuple(_sources(studio.folder)))
    asked = studio.parts.turns.ask(
        f"label {label.text}", lambda hand: _search(hand, label, sources)
    )
    found: Asked | None = await asyncio.shield(asyncio.wrap_future(asked))
    if found is None:
        raise NotKept("no lesson here has this exercise", remedy=_UNKNOWN)
    return found


def _search(hand: Hand, label: Label, sources: tuple[Source, ...]) -> Asked | None:
    try:
        return hand.do(found_by, label, sources)
    except Stopped:
        return None


async def _scanned(request: Request) -> Response:
    """The latest lesson of whoever asks that holds the exercise; else what it would be made of."""
    studio, player = studio_of(request), guest_of(request.scope)
    at = await run_in_threadpool(_held, studio, request.path_params["label"], player)
    if at is not None:
        return see_other(at)
    return await run_in_threadpool(_offered, request, await _wanted(request))


def _held(studio: Studio, label: str, player: str) -> str | None:
    for asked in studio.folder.lessons(player or None):
        labels = _labels(studio.folder.lesson(asked.id))
        if label in labels:
            return f"/lessons/{asked.id}/{labels.index(label) + 1}"
    return None


@lru_cache(2048)
def _labels(lesson: Path) -> tuple[str, ...]:
    """The labels of a lesson's exercises in order; a lesson never changes."""
    return tuple(one["label"] for one in manifest_of(lesson)["exercises"])


def _offered(request: Request, asked: Asked) -> Response:
    studio = studio_of(request)
    return page(
        request,
        "scanned.html",
        asked=asked,
        title=studio.folder.chart(asked.chart, asked.version).title,
        family=family(asked.families[0])[0].title,
        players=[] if guest_of(request.scope) else studio.store.all(Student),
    )


async def _make(request: Request) -> Response:
    """Have the exercise made again, for the player whose link it is or the one that was chosen."""
    form, wanted = await form_of(request), await _wanted(request)
    studio = studio_of(request)
    player = guest_of(request.scope) or words(form, "player")

    def asked() -> str:
        if player and not studio.store.all(Student, id=player):
            raise NotKept("this player is not on the roster", remedy="Choose one from the list.")
        return ask_for(studio, wanted.for_player(player))

    return see_other(f"/lessons/{await run_in_threadpool(asked)}/1")


ROUTES = [
    Route("/exercise/{label:path}", _scanned),
    Route("/exercise/{label:path}", _make, methods=["POST"]),
]
