"""Stems kept by what they are: the same performance is sounded once and found again.

An entry's name is a digest of every event, of the sound room's code and of its notes, so a change
of any of them sounds anew; nothing is ever out of date.
"""

import json
import os
import shutil
import struct
import time
import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from changewright.errors import UnknownName
from changewright.music.performance import Performance
from changewright.sound.files import FORMATS, stream_stems
from changewright.sound.loudness import Loudness

__all__ = ["MOST_KEPT_BYTES", "MOST_KEPT_S", "StemShelf", "digest_of"]

MOST_KEPT_BYTES = 1_000_000_000
"""What a shelf may grow to before the stems go that nobody has asked for longest: an hour and a
half of a quartet, or some fifty lessons."""

MOST_KEPT_S = 600.0
"""The longest performance that is kept, in seconds; longer ones are sounded where they are wanted,
so that hours of music don't lie on the disk twice."""

_TOLD = "stems.json"
_MAKING, _GOING = ".making-", ".going-"
_ABANDONED_S = 86_400.0  # nobody works a day at one performance: its process was killed
_PIECE = 2**20


@dataclass(frozen=True, slots=True)
class StemShelf:
    """A folder of stems by digest. Several processes may use one at a time: an entry is written
    aside and moved there in one step, and a copy that doesn't agree with its checksum is made
    again."""

    folder: Path
    most_bytes: int = MOST_KEPT_BYTES

    def write(
        self, performance: Performance, target: Path, format: str = "flac"
    ) -> tuple[tuple[Path, ...], Loudness]:
        """Write a performance's stems to ``target``, from the shelf where they lie there.

        The files are those that :func:`stream_stems` writes, the mix last; returned with the
        loudness. Raises :class:`UnknownName` for a format that we don't write.
        """
        if format not in FORMATS:
            raise UnknownName("audio format", format, FORMATS)
        if performance.length_s > MOST_KEPT_S:
            return stream_stems(performance, target, format)
        home = self.folder / f"{digest_of(performance)}-{format}"
        names = [f"{name}.{format}" for name in (*(p.name for p in performance.parts), "mix")]
        found = _copied(home, target, names)
        if found is None:
            found = stream_stems(performance, target, format)
            self._keep(home, *found)
            self.trim()
        return found

    def trim(self, most_bytes: int | None = None) -> int:
        """Throw away what was asked for longest ago until the shelf is small enough; returns how
        many entries went."""
        most = self.most_bytes if most_bytes is None else most_bytes
        self._sweep()
        found = sorted(self._entries())
        total = sum(size for _, _, size in found)
        gone = 0
        for _, path, size in found:
            if total <= most:
                break
            gone += _thrown_away(path)
            total -= size
        return gone

    def empty(self) -> int:
        """Throw everything away; returns how many entries went."""
        return self.trim(most_bytes=-1)

    @property
    def size(self) -> tuple[int, int]:
        """How many entries there are, and how many bytes they take."""
        sizes = [size for _, _, size in self._entries()]
        return len(sizes), sum(sizes)

    def _keep(self, home: Path, paths: tuple[Path, ...], heard: Loudness) -> None:
        """Put copies on the shelf. A disk that is full spoils nothing but the keeping."""
        making: Path | None = None
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            making = Path(mkdtemp(prefix=_MAKING, dir=self.folder))
            sums = {path.name: _copy(path, making / path.name) for path in paths}
            told = {"files": sums, "loudness": asdict(heard)}
            (making / _TOLD).write_text(json.dumps(told), "utf-8")
            os.replace(making, home)
        except OSError:  # or another process was first
            if making is not None:
                shutil.rmtree(making, ignore_errors=True)

    def _entries(self) -> Iterator[tuple[int, Path, int]]:
        """When each was last asked for, where it lies, and its bytes."""
        for told in self.folder.glob(f"*/{_TOLD}"):
            home = told.parent
            try:
                used, size = told.stat().st_mtime_ns, sum(p.stat().st_size for p in home.iterdir())
            except OSError:  # gone under our hands
                continue
            if not home.name.startswith("."):
                yield used, home, size

    def _sweep(self) -> None:
        """Clear away what a killed process left half-made."""
        for path in [*self.folder.glob(f"{_MAKING}*"), *self.folder.glob(f"{_GOING}*")]:
            try:
                abandoned = time.time() - path.stat().st_mtime > _ABANDONED_S
            except OSError:
                continue
            if abandoned:
                shutil.rmtree(path, ignore_errors=True)


def digest_of(performance: Performance) -> str:
    """A name for what a performance sounds like, in 32 hexadecimal digits."""
    found = sha256(_sound_digest())
    found.update(struct.pack("<d", performance.length_s))
    for part in performance.parts:
        found.update(f"{part.name}|{part.program}|{part.is_drums}|{len(part.events)}".encode())
        for event in part.events:
            found.update(
                struct.pack("<ddBB", event.onset_s, event.duration_s, event.midi, event.velocity)
            )
    return found.hexdigest()[:32]


@cache
def _sound_digest() -> bytes:
    """A hash over the room's own code and notes: nobody has to remember to raise a number."""
    told = sha256()
    _add(files("changewright.sound"), "", told.update)
    return told.digest()


def _add(folder: Traversable, inside: str, update: Callable[[bytes], None]) -> None:
    for entry in sorted(folder.iterdir(), key=lambda one: one.name):
        name = f"{inside}/{entry.name}"
        if not entry.is_dir():
            update(name.encode() + b"\0" + sha256(entry.read_bytes()).digest())
        elif entry.name != "__pycache__":
            _add(entry, name, update)


def _copied(
    home: Path, target: Path, names: Sequence[str]
) -> tuple[tuple[Path, ...], Loudness] | None:
    """The stems of an entry in ``target``; None where there is none, or it was damaged."""
    try:
        told: Any = json.loads((home / _TOLD).read_text("utf-8"))
        os.utime(home / _TOLD)
        target.mkdir(parents=True, exist_ok=True)
        for name in names:
            if _copy(home / name, target / name) != told["files"][name]:
                raise ValueError(f"{name} is damaged")
        return tuple(target / name for name in names), Loudness(**told["loudness"])
    except FileNotFoundError:  # not there, or thrown away while we copied
        return None
    except (ValueError, KeyError, TypeError, AttributeError):
        _thrown_away(home)
        return None


def _copy(source: Path, target: Path) -> int:
    """Copy a file and return its checksum, so that reading it twice isn't needed."""
    told = 0
    with source.open("rb") as before, target.open("wb") as after:
        while piece := before.read(_PIECE):
            told = zlib.crc32(piece, told)
            after.write(piece)
    return told


def _thrown_away(home: Path) -> bool:
    """Take an entry out of sight in one step, then off the disk: nobody finds half of one."""
    going = home.parent / f"{_GOING}{home.name}-{os.getpid()}"
    try:
        os.replace(home, going)
    except OSError:  # another process was first, or a reader on Windows has it open
        return False
    shutil.rmtree(going, ignore_errors=True)
    return True
