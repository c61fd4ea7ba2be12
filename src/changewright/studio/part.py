"""What is on a Stand: an exercise as it was set, or at another tempo or in another key.

A variant is made when it is first asked for and kept as a lesson folder of its own::

    variants/3fa9c2.../2/90-Bb/lesson.json     exercise 2 of a lesson, at 90 in B flat

The same lesson, tempo and key make the same variant, so the oldest ones are thrown away freely.
"""

import shutil
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any

from changewright.errors import InputError, NotKept
from changewright.studio.door import Throttle
from changewright.studio.engraved import assignment_of, manifest_of, systems_of
from changewright.usecases.charts import parse_key
from changewright.usecases.lesson_folder import Assignment
from changewright.usecases.variant import write_variant

__all__ = ["KEPT", "Part", "Parts"]

KEPT = 12
"""How many variants of an exercise are kept."""

_NEW_A_MINUTE = 60


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
    """The variants of a studio's lessons."""

    root: Path
    new: Throttle = field(default_factory=lambda: Throttle(_NEW_A_MINUTE, 60.0))
    making: Lock = field(default_factory=Lock)

    def part(self, lesson: Path, number: int, tempo: int | None, key: str | None) -> Part:
        """Exercise ``number`` of the folder of a lesson; what is None stays as it was set.

        Raises :class:`NotKept` where there is no such exercise, an :class:`InputError` for what
        can't be played, and :class:`Refusal` where the rules leave no line in that key.
        """
        manifest = manifest_of(lesson)
        if not 1 <= number <= len(manifest["exercises"]):
            raise NotKept(f"there is no exercise {number}", remedy="Go back to the lesson.")
        asked, home = assignment_of(lesson, number), str(manifest["key"])
        wanted = home if key is None else str(parse_key(key))
        bpm = asked.sheet.tempo_bpm if tempo is None else tempo
        if bpm == asked.sheet.tempo_bpm and wanted == home:
            return Part(lesson, number, home)
        at = self.root / "variants" / lesson.name / str(number)
        folder = at / f"{bpm}-{wanted.replace('#', 's')}"
        with self.making:
            if not folder.is_dir():
                self._make(lesson, number, folder, bpm, wanted)
        return Part(folder, 1, wanted)

    def _make(self, lesson: Path, number: int, folder: Path, bpm: int, key: str) -> None:
        if not self.new.allows():
            raise InputError("too many tempi and keys were asked for", remedy="Wait a minute.")
        write_variant(lesson, number, folder, tempo_bpm=bpm, key=key)
        kept = sorted(folder.parent.iterdir(), key=lambda one: one.stat().st_mtime_ns)
        for old in kept[:-KEPT]:
            shutil.rmtree(old, ignore_errors=True)
