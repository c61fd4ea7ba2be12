"""The studio's folder: charts with all their versions, and lessons.

::

    charts/low-water-blues/0001.txt    a version of a chart, as its author typed it
    lessons/3fa9c2.../lesson.json      a lesson folder as ``changewright lesson`` writes it
    requests/3fa9c2....json            what was asked for, to ask for another one like it
    failed/3fa9c2....json              why a lesson could not be made

Players, their takes and what was heard in them are in the roster's store, see
:mod:`changewright.studio.filing`.
A file is written beside its place and moved there, so that it is whole or not there at all.
"""

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from changewright.chart.chart import Chart
from changewright.chart.load import load_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.writer import write_chart
from changewright.errors import InputError, NotKept
from changewright.studio.shapes import LESSON, NAME, name_of

__all__ = ["Asked", "Folder"]

_MOST_VERSIONS = 9999
_MOST_FAILED = 200


@dataclass(frozen=True, slots=True)
class Asked:
    """What a teacher asked for.

    ``version`` is the chart's, 0 for one of the starting shelf; ``player`` the id of whom it is for
    on the roster, empty for nobody; ``tempo`` is in quarters a minute, None for the level's own;
    ``swaps`` are phrases put in the place of bars: exercise, bar, the phrase's name.
    """

    chart: str
    version: int
    instrument: str
    level: int
    key: str | None = None
    seed: int = 1
    player: str = ""
    families: tuple[str, ...] = ()
    tempo: int | None = None
    swaps: tuple[tuple[int, int, str], ...] = ()

    @property
    def id(self) -> str:
        """The lesson's name: what is asked for twice is made once."""
        told = json.dumps(asdict(self), sort_keys=True)
        return sha256(told.encode()).hexdigest()[:16]

    def for_player(self, player: str) -> "Asked":
        """The same for a player of the roster."""
        return replace(self, player=player)


@dataclass(frozen=True, slots=True)
class Folder:
    """The charts and lessons of a studio."""

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
        """Keep what was asked for, to make it, and to ask for another one like it."""
        text = json.dumps(asdict(asked), ensure_ascii=False)
        _write(self.root / "requests" / f"{asked.id}.json", text.encode())

    def asked(self, lesson_id: str) -> Asked:
        """What was asked for when a lesson was made; raises :class:`NotKept`."""
        path = self.root / "requests" / f"{self.lesson(lesson_id).name}.json"
        if not path.is_file():
            raise NotKept("there is no such lesson", remedy="Make one at the Desk.")
        told = json.loads(path.read_text("utf-8"))
        swaps = tuple((n, bar, phrase) for n, bar, phrase in told["swaps"])
        return Asked(**{**told, "families": tuple(told["families"]), "swaps": swaps})

    def is_made(self, lesson_id: str) -> bool:
        """Whether a lesson is there, and not only asked for."""
        return self.lesson(lesson_id).is_dir()

    def made(self, lesson_id: str) -> Path:
        """Where a lesson lies; raises :class:`NotKept` where it isn't there, or not yet."""
        self.asked(lesson_id)
        if not self.is_made(lesson_id):
            raise NotKept("this lesson is not made yet", remedy="Open it at the Desk.")
        return self.lesson(lesson_id)

    def lessons(self, player: str | None = None) -> tuple[Asked, ...]:
        """The lessons made, of all or of one player, the latest first."""
        found = (one for one in self.requests() if self.is_made(one.id))
        return tuple(one for one in found if player is None or one.player == player)

    def requests(self) -> tuple[Asked, ...]:
        """All that was asked for, made or not, the latest first."""
        found = [p for p in self._in("requests") if LESSON.fullmatch(p.stem)]
        latest = sorted(found, key=lambda p: (-p.stat().st_mtime_ns, p.name))
        return tuple(self.asked(p.stem) for p in latest)

    def fail(self, lesson_id: str, fault: dict[str, Any]) -> None:
        """Note why a lesson could not be made, as a page shows it; what was asked for stays, to be
        asked for again. Of very many the oldest are forgotten."""
        text = json.dumps(fault, ensure_ascii=False)
        _write(self.root / "failed" / f"{self.lesson(lesson_id).name}.json", text.encode())
        failed = [p for p in self._in("failed") if LESSON.fullmatch(p.stem)]
        for old in sorted(failed, key=lambda p: p.stat().st_mtime_ns)[:-_MOST_FAILED]:
            self.forget(old.stem)

    def fault(self, lesson_id: str) -> dict[str, Any] | None:
        """Why a lesson could not be made; None where nothing went wrong."""
        path = self.root / "failed" / f"{self.lesson(lesson_id).name}.json"
        try:
            told: dict[str, Any] = json.loads(path.read_text("utf-8"))
        except FileNotFoundError:
            return None
        return told

    def pardon(self, lesson_id: str) -> None:
        """Forget why a lesson could not be made: it is tried again."""
        path = self.root / "failed" / f"{self.lesson(lesson_id).name}.json"
        path.unlink(missing_ok=True)

    def forget(self, lesson_id: str) -> None:
        """Delete a lesson with what was asked for."""
        name = self.lesson(lesson_id).name
        for part in ("lessons", "variants"):
            shutil.rmtree(self.root / part / name, ignore_errors=True)
        self.pardon(name)
        (self.root / "requests" / f"{name}.json").unlink(missing_ok=True)

    def _in(self, *parts: str) -> Iterator[Path]:
        at = self.root.joinpath(*parts)
        return at.iterdir() if at.is_dir() else iter(())


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
