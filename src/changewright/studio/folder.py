"""The studio's folder: charts with all their versions, lessons, takes and the consents to them.

::

    charts/low-water-blues/0001.txt    a version of a chart, as its author typed it
    lessons/3fa9c2.../lesson.json      a lesson folder as ``changewright lesson`` writes it
    requests/3fa9c2....json            what was asked for, to ask for another one like it
    takes/3fa9c2.../2/<key>.wav        a recording of exercise 2
    takes/3fa9c2.../2/<key>.json       what was heard in it
    consents/3fa9c2....json            when recording was agreed to for a lesson

A file is written beside its place and moved there, so that it is whole or not there at all.
"""

import json
import os
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from changewright.chart.chart import Chart
from changewright.chart.load import load_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.writer import write_chart
from changewright.errors import InputError, NotKept
from changewright.studio.shapes import LESSON, NAME, name_of

__all__ = ["Asked", "Folder", "KeptTake"]

_MOST_VERSIONS = 9999


@dataclass(frozen=True, slots=True)
class Asked:
    """What a teacher asked for; ``version`` is the chart's, 0 for one of the starting shelf."""

    chart: str
    version: int
    instrument: str
    level: int
    key: str | None = None
    seed: int = 1
    student: str = ""
    families: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """The lesson's name: what is asked for twice is made once."""
        told = json.dumps(asdict(self), sort_keys=True)
        return sha256(told.encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class KeptTake:
    """A recording on the disk, and what was heard in it (None until it was listened to)."""

    key: str
    path: Path
    heard: dict[str, Any] | None


@dataclass(frozen=True, slots=True)
class Folder:
    """Everything that the studio keeps, in one folder of the teacher's."""

    root: Path

    # charts

    def own_charts(self) -> tuple[str, ...]:
        """The names of the teacher's own charts, in alphabetical order."""
        return tuple(sorted(p.name for p in self._in("charts") if NAME.fullmatch(p.name)))

    def versions(self, name: str) -> tuple[int, ...]:
        """The versions kept of a chart, the latest first; none for one of the starting shelf."""
        if not NAME.fullmatch(name):
            return ()
        stems = (p.stem for p in self._in("charts", name) if p.suffix == ".txt")
        return tuple(sorted((int(s) for s in stems if s.isdecimal()), reverse=True))

    def chart_text(self, name: str, version: int = 0) -> str:
        """A version as its author typed it, or a chart of the starting shelf for version 0."""
        if version:
            return self.chart_path(name, version).read_text("utf-8")
        return write_chart(shelf_chart(name))

    def chart_path(self, name: str, version: int) -> Path:
        """Where a version lies; raises :class:`NotKept` where there is none."""
        if version not in self.versions(name):
            raise NotKept(
                f"there is no version {version} of {name!r}", remedy="Choose it on the Shelf."
            )
        return self.root / "charts" / name / f"{version:04}.txt"

    def chart(self, name: str, version: int) -> Chart:
        """A chart, read."""
        if version:
            return load_chart(self.chart_path(name, version))
        return shelf_chart(name)

    def source(self, name: str, version: int) -> str:
        """What :func:`~changewright.usecases.charts.open_chart` opens it by."""
        if version:
            return str(self.chart_path(name, version))
        if name not in shelf():
            raise NotKept(f"there is no chart {name!r}", remedy="Choose it on the Shelf.")
        return name

    def save_chart(self, title: str, text: str) -> tuple[str, int]:
        """Keep a text as the newest version under its title's name, unless it is that already."""
        name = name_of(title)
        latest = next(iter(self.versions(name)), 0)
        if latest and self.chart_text(name, latest) == text:
            return name, latest
        if latest >= _MOST_VERSIONS:
            raise InputError(f"{name!r} has {latest} versions", remedy="Give it another title.")
        _write(self.root / "charts" / name / f"{latest + 1:04}.txt", text.encode())
        return name, latest + 1

    # lessons

    def lesson(self, lesson_id: str) -> Path:
        """Where a lesson lies or will lie; raises :class:`NotKept` for a name of no lesson."""
        if not LESSON.fullmatch(lesson_id):
            raise NotKept("there is no such lesson", remedy="Make one at the Desk.")
        return self.root / "lessons" / lesson_id

    def keep_request(self, asked: Asked) -> None:
        """Keep what was asked for, to ask for another one like it."""
        text = json.dumps(asdict(asked), ensure_ascii=False)
        _write(self.root / "requests" / f"{asked.id}.json", text.encode())

    def asked(self, lesson_id: str) -> Asked:
        """What was asked for when a lesson was made; raises :class:`NotKept`."""
        path = self.root / "requests" / f"{self.lesson(lesson_id).name}.json"
        if not path.is_file():
            raise NotKept("there is no such lesson", remedy="Make one at the Desk.")
        told = json.loads(path.read_text("utf-8"))
        return Asked(**{**told, "families": tuple(told["families"])})

    def lessons(self) -> tuple[Asked, ...]:
        """The lessons made, the latest first."""
        found = [p for p in self._in("requests") if LESSON.fullmatch(p.stem)]
        latest = sorted(found, key=lambda p: (-p.stat().st_mtime_ns, p.name))
        return tuple(self.asked(p.stem) for p in latest if self.lesson(p.stem).is_dir())

    # takes

    def has_consent(self, lesson_id: str) -> bool:
        """Whether recording was agreed to for a lesson's player."""
        return self._consent(lesson_id).is_file()

    def keep_consent(self, lesson_id: str, given: str) -> None:
        """Note that recording was agreed to; ``given`` is the moment."""
        self.asked(lesson_id)
        _write(self._consent(lesson_id), json.dumps({"given": given}).encode())

    def keep_take(self, lesson_id: str, exercise: int, key: str, media: str, sound: bytes) -> Path:
        """Keep a recording under its key; the same key again keeps what is there."""
        if not self.has_consent(lesson_id):
            raise InputError(
                "nobody has agreed to this recording yet",
                remedy="Read what recording means and agree to it first.",
            )
        there = self._sound(lesson_id, exercise, key)
        if there is not None:
            return there
        path = self._takes(lesson_id, exercise) / f"{key}{media}"
        _write(path, sound)
        return path

    def keep_hearing(self, take: Path, hearing: dict[str, Any]) -> None:
        """Keep what was heard beside its recording."""
        text = json.dumps(hearing, ensure_ascii=False, allow_nan=False)
        _write(take.with_suffix(".json"), text.encode())

    def take(self, lesson_id: str, exercise: int, key: str) -> KeptTake | None:
        """One take, or None where there is none."""
        path = self._sound(lesson_id, exercise, key)
        if path is None:
            return None
        told = path.with_suffix(".json")
        return KeptTake(key, path, json.loads(told.read_text("utf-8")) if told.is_file() else None)

    def takes(self, lesson_id: str, exercise: int) -> tuple[KeptTake, ...]:
        """The takes of an exercise, the latest first."""
        at = self._takes(lesson_id, exercise)
        found = [p for p in at.iterdir() if p.suffix in MEDIA] if at.is_dir() else []
        latest = sorted(found, key=lambda p: (-p.stat().st_mtime_ns, p.name))
        kept = (self.take(lesson_id, exercise, p.stem) for p in latest)
        return tuple(take for take in kept if take is not None)

    def delete_take(self, lesson_id: str, exercise: int, key: str) -> bool:
        """Delete a recording and what was heard in it; False where there was none."""
        path = self._sound(lesson_id, exercise, key)
        if path is None:
            return False
        path.with_suffix(".json").unlink(missing_ok=True)
        path.unlink(missing_ok=True)
        return True

    def _consent(self, lesson_id: str) -> Path:
        """By the player where he is named: who agreed once is not asked for each lesson."""
        student = self.asked(lesson_id).student
        name = sha256(student.encode()).hexdigest()[:16] if student else lesson_id
        return self.root / "consents" / f"{name}.json"

    def _takes(self, lesson_id: str, exercise: int) -> Path:
        return self.root / "takes" / self.lesson(lesson_id).name / str(int(exercise))

    def _sound(self, lesson_id: str, exercise: int, key: str) -> Path | None:
        places = (self._takes(lesson_id, exercise) / f"{key}{media}" for media in MEDIA)
        return next((path for path in places if path.is_file()), None)

    def _in(self, *parts: str) -> Iterator[Path]:
        at = self.root.joinpath(*parts)
        return at.iterdir() if at.is_dir() else iter(())


MEDIA = (".wav", ".flac", ".ogg", ".mp3", ".mid", ".sound")
"""How recordings are called on the disk; ``.sound`` is one of a kind that we don't know."""


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, making = tempfile.mkstemp(prefix=".making-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(making).replace(path)
    except BaseException:
        Path(making).unlink(missing_ok=True)
        raise
