"""Takes are listened to while they are played, by a process of its own.

It reads the pieces as they come, so that little is left to do when the player stops. It is a help
and nothing more: a take that it doesn't know, or lost, is heard from its recording.
"""

import logging
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

from changewright.errors import ChangewrightError
from changewright.jobs.bounded import Hand, Stopped
from changewright.jobs.turns import Turns
from changewright.store.records import Take
from changewright.studio.part import Part
from changewright.studio.pieces import Telling
from changewright.usecases.hear_live import LiveHearing, hear_live
from changewright.usecases.roster import hearing_with_evidence

__all__ = ["GIVEN_UP_S", "MOST", "Follower", "Verdict"]

_LOG = logging.getLogger(__name__)

MOST = 8
"""How many takes are followed at once: more would keep each other from being in time."""

GIVEN_UP_S = 600.0
"""A take that is not whole after ten minutes is given up: its page is gone."""

Verdict = tuple[dict[str, Any], tuple[Any, ...]]
"""A hearing's document, and what it says of skills."""


@dataclass(frozen=True, slots=True)
class Follower:
    """Follows takes by name; ``turns`` are the works of its one process, ``parts`` what each take
    that is followed is a take of, and since when; ``now`` gives seconds."""

    turns: Turns
    now: Callable[[], float] = time.monotonic
    parts: dict[str, tuple[Part, float]] = field(default_factory=dict)
    lock: Lock = field(default_factory=Lock)

    def begin(self, name: str, part: Part) -> None:
        """Follow a take from its first piece on, unless too many are followed already."""
        now = self.now()
        with self.lock:
            for other, (_, since) in list(self.parts.items()):
                if since < now - GIVEN_UP_S:
                    del self.parts[other]
            if len(self.parts) < MOST:
                self.parts[name] = (part, now)

    def hear(self, name: str, pieces: Path, rate: int) -> None:
        """Another piece of a take has come; returns at once."""
        part, _ = self.parts.get(name, (None, 0.0))
        if part is None:
            return

        def work(hand: Hand) -> None:
            try:
                hand.do(_catch_up, name, pieces, part.folder, part.number, rate)
            except (Stopped, ChangewrightError):
                self.leave(name)
            except Exception:  # its recording is heard instead
                _LOG.exception("a take could not be followed")
                self.leave(name)

        self.turns.ask(name, work)

    def finish(self, name: str, pieces: Path, telling: Telling, take: Take) -> Verdict | None:
        """The hearing's document and what it says of skills; None for a take that is not followed.
        Waits until the last piece is heard."""
        part, _ = self.parts.get(name, (None, 0.0))
        if part is None:
            return None

        def work(hand: Hand) -> Verdict | None:
            try:
                return hand.do(_finish, name, pieces, part.folder, part.number, telling, take)
            except (Stopped, ChangewrightError):
                return None  # its recording will tell why
            except Exception:
                _LOG.exception("a take could not be followed to its end")
                return None

        try:
            found: Verdict | None = self.turns.ask(f"finish {name}", work).result()
        finally:
            self.leave(name)
        return found

    def leave(self, name: str) -> None:
        """Follow a take no longer."""
        with self.lock:
            self.parts.pop(name, None)

    def close(self) -> None:
        """Let everything go."""
        self.turns.close()


_followed: OrderedDict[str, tuple[LiveHearing, list[int]]] = OrderedDict()
"""In the follower's process: each take, and the number of the piece that is heard next."""


def _catch_up(name: str, pieces: Path, lesson: Path, exercise: int, rate: int) -> None:
    """Hear the pieces that have come, in their order, up to the first that is missing."""
    if name not in _followed:
        while len(_followed) >= MOST:
            _followed.popitem(last=False)
        _followed[name] = (hear_live(lesson, exercise, rate), [0])
    hearing, following = _followed[name]
    while (path := pieces / f"{following[0]:04}.pcm").is_file():
        whole = np.frombuffer(path.read_bytes(), dtype="<i2")
        hearing.push(np.asarray(whole, dtype=np.float32) / np.float32(32768))
        following[0] += 1


def _finish(
    name: str, pieces: Path, lesson: Path, exercise: int, telling: Telling, take: Take
) -> Verdict | None:
    try:
        _catch_up(name, pieces, lesson, exercise, telling.rate)
        hearing, (heard,) = _followed[name]
        if heard != telling.pieces:
            return None
        verdict = hearing.finish(
            telling.skip / telling.rate, is_on_the_clock=telling.anchor != "none"
        )
        return hearing_with_evidence(verdict, lesson, exercise, take)
    finally:
        _followed.pop(name, None)
