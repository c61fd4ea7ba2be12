"""What is on a Stand: an exercise as it was set, or at another tempo or in another key.

A variant is made when it is first asked for and kept as a lesson folder of its own::

    variants/3fa9c2.../2/90-Bb/lesson.json     exercise 2 of a lesson, at 90 in B flat

The same lesson, tempo and key make the same variant, so the oldest ones are thrown away freely.
"""

import logging
import shutil
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from changewright.errors import ChangewrightError, EngineError, InputError, NotKept
from changewright.jobs.bounded import Hand, Stopped
from changewright.jobs.turns import Turns
from changewright.studio.door import Throttle
from changewright.studio.engraved import assignment_of, manifest_of, systems_of
from changewright.studio.faults import fault_view
from changewright.usecases.charts import parse_key
from changewright.usecases.lesson_folder import Assignment
from changewright.usecases.variant import write_variant

__all__ = ["KEPT", "Part", "Parts"]

KEPT = 12
"""How many variants of an exercise are kept."""

_NEW_A_MINUTE = 60
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Part:
    """An exercise in a lesson folder: the lesson's own, or a variant's only one; ``key`` is the
    concert key of its chart."""

    folder: Path
    number: int
    key: str

    @property
    def asked(self) -> Assignment:
        """What it asks for."""
        return assignment_of(self.folder, self.number)

    def systems(self, bars: int = 4) -> tuple[str, ...]:
        """Its music, so many bars a system."""
        return systems_of(self.folder, self.number, bars)

    @property
    def told(self) -> dict[str, Any]:
        """The tempo and key it is played in."""
        return {"tempo": self.asked.sheet.tempo_bpm, "key": self.key}

    @property
    def stems(self) -> dict[str, Path]:
        """Where its stems lie."""
        files = manifest_of(self.folder)["exercises"][self.number - 1]["files"]
        return {name: self.folder / path for name, path in files["stems"].items()}


@dataclass(frozen=True, slots=True)
class Parts:
    """The variants of a studio's lessons; ``turns`` are the works of whoever makes them."""

    root: Path
    turns: Turns
    new: Throttle = field(default_factory=lambda: Throttle(_NEW_A_MINUTE, 60.0))

    def ask(self, lesson: Path, number: int, tempo: int | None, key: str | None) -> Future[Part]:
        """Exercise ``number`` of the folder of a lesson; what is None stays as it was set. A
        variant that isn't there is made first, in its turn.

        Raises :class:`NotKept` where there is no such exercise and an :class:`InputError` for what
        can't be played. The future raises an :class:`InputError` where the rules leave no line in
        that key, and an :class:`EngineError` where the program itself failed.
        """
        manifest = manifest_of(lesson)
        if not 1 <= number <= len(manifest["exercises"]):
            raise NotKept(f"there is no exercise {number}", remedy="Go back to the lesson.")
        asked, home = assignment_of(lesson, number), str(manifest["key"])
        wanted = home if key is None else str(parse_key(key))
        bpm = asked.sheet.tempo_bpm if tempo is None else tempo
        if bpm == asked.sheet.tempo_bpm and wanted == home:
            return _there(Part(lesson, number, home))
        at = self.root / "variants" / lesson.name / str(number)
        folder = at / f"{bpm}-{wanted.replace('#', 's')}"
        if folder.is_dir():
            return _there(Part(folder, 1, wanted))
        name = f"{lesson.name}/{number}/{folder.name}"
        if self.turns.standing(name).state == "unknown" and not self.new.allows():
            raise InputError("too many tempi and keys were asked for", remedy="Wait a minute.")
        return self.turns.ask(name, lambda hand: _made(hand, lesson, number, folder, bpm, wanted))


def _there(part: Part) -> Future[Part]:
    done: Future[Part] = Future()
    done.set_result(part)
    return done


def _made(hand: Hand, lesson: Path, number: int, folder: Path, bpm: int, key: str) -> Part:
    try:
        fault = None if folder.is_dir() else hand.do(_write, lesson, number, folder, bpm, key)
    except Stopped:
        fault = {"what": "sounding this took too long", "remedy": "Choose a quicker tempo."}
    except Exception as broke:
        _LOG.exception("a variant could not be made")
        raise EngineError("this could not be sounded: try it again") from broke
    if fault is not None:
        raise InputError(fault["what"], remedy=fault["remedy"])
    kept = sorted(folder.parent.iterdir(), key=lambda one: one.stat().st_mtime_ns)
    for old in kept[:-KEPT]:
        shutil.rmtree(old, ignore_errors=True)
    return Part(folder, 1, key)


def _write(lesson: Path, number: int, folder: Path, bpm: int, key: str) -> dict[str, Any] | None:
    """A fault travels as what a page shows of it: an error would not survive the way."""
    try:
        write_variant(lesson, number, folder, tempo_bpm=bpm, key=key)
    except ChangewrightError as fault:
        return fault_view(fault)
    return None
