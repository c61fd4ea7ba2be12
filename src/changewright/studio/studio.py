"""What all pages share: the folder, the roster, the hands that work, and the door."""

import asyncio
from concurrent.futures import Future
from dataclasses import dataclass, field

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request

from changewright.jobs.turns import Turns
from changewright.store.store import Store
from changewright.studio.bookcase import Bookcase
from changewright.studio.door import Door, Throttle
from changewright.studio.filing import Filing
from changewright.studio.folder import Folder
from changewright.studio.follower import Follower
from changewright.studio.part import Part, Parts
from changewright.studio.pieces import Pieces

__all__ = ["TAKES_A_MINUTE", "Studio", "studio_of"]

TAKES_A_MINUTE = 60
"""How many takes are taken in a minute: more than a class sends, fewer than would fill a disk."""

_SCANS_A_MINUTE = 60


@dataclass(frozen=True, slots=True)
class Studio:
    """A studio at work.

    ``ear`` listens to takes, ``maker`` makes lessons, ``press`` books, ``follower`` listens to
    takes while they are played, each in its own processes; ``parts`` are the
    variants of lessons, ``pieces`` the takes that are being played. ``door`` is None where only
    this machine can come in, ``root_url`` the address by which others find it, where it is told.
    ``takes`` counts the recordings that come in, ``scans`` the codes of unknown exercises.
    """

    filing: Filing
    ear: Turns
    maker: Turns
    press: Turns
    follower: Follower
    parts: Parts
    pieces: Pieces
    door: Door | None = None
    root_url: str | None = None
    takes: Throttle = field(default_factory=lambda: Throttle(TAKES_A_MINUTE, 60.0))
    scans: Throttle = field(default_factory=lambda: Throttle(_SCANS_A_MINUTE, 60.0))

    @property
    def folder(self) -> Folder:
        """Charts and lessons."""
        return self.filing.folder

    @property
    def books(self) -> Bookcase:
        """The books in the making, and those that are there."""
        return Bookcase(self.folder)

    @property
    def store(self) -> Store:
        """The roster's store."""
        return self.filing.store

    def ask_part(
        self, lesson_id: str, number: int, tempo: int | None, key: str | None
    ) -> Future[Part]:
        """Exercise ``number`` of a lesson as it is played, see :meth:`Parts.ask`; raises
        :class:`NotKept` for a lesson that isn't there."""
        return self.parts.ask(self.folder.made(lesson_id), number, tempo, key)

    async def part(self, lesson_id: str, number: int, tempo: int | None, key: str | None) -> Part:
        """The same, waited for; nobody's thread waits meanwhile."""
        asked = await run_in_threadpool(self.ask_part, lesson_id, number, tempo, key)
        if asked.done():
            return asked.result()
        return await asyncio.shield(asyncio.wrap_future(asked))

    def close(self) -> None:
        """Let everything go."""
        self.ear.close()
        self.maker.close()
        self.press.close()
        self.follower.close()
        self.parts.turns.close()
        self.store.close()


def studio_of(request: Request) -> Studio:
    """The studio that a request came to."""
    found: Studio = request.app.state.studio
    return found
