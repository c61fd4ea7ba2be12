"""A folder of finished work, addressed by the hash of what it was made from.

One file a result: a line of JSON that names its parts, then the parts one after another. A file
is written beside its place and moved there, so that it is whole or not there at all.
"""

import json
import os
import sys
import tempfile
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from changewright.errors import InputError, Place

__all__ = ["MOST_BYTES", "Kept", "usual_folder"]

MOST_BYTES = 2_000_000_000
"""What a folder of finished work may grow to before the oldest results go."""

_LONGEST_HEAD = 100_000


def usual_folder(
    environment: Mapping[str, str] | None = None, platform: str = sys.platform
) -> Path:
    """Where this platform keeps what can be made again, unless CHANGEWRIGHT_CACHE names a folder.

    Source: XDG Base Directory Specification 0.8; on other systems their makers' file system guides.
    """
    told = os.environ if environment is None else environment
    if own := told.get("CHANGEWRIGHT_CACHE"):
        return Path(own).expanduser()
    if platform == "win32":
        base = told.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
    elif platform == "darwin":
        base = str(Path.home() / "Library" / "Caches")
    else:
        base = told.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(base) / "changewright"


@dataclass(frozen=True, slots=True)
class Kept:
    """Results by key; a key is a hash in hex. Several processes may use one folder at a time."""

    folder: Path

    def has(self, key: str) -> bool:
        """True where a whole result lies under the key."""
        path = self._path(key)
        try:
            with path.open("rb") as file:
                head = _head(file.readline(_LONGEST_HEAD))
                return file.tell() + sum(size for size, _ in head.values()) == path.stat().st_size
        except (OSError, ValueError):
            return False

    def put(self, key: str, parts: Mapping[str, bytes]) -> None:
        """Keep a result, in place of an older one."""
        path = self._path(key)
        path.parent.mkdir(parents=True, exist_ok=True)
        told = {name: [len(part), zlib.crc32(part)] for name, part in parts.items()}
        handle, making = tempfile.mkstemp(prefix=".making-", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(json.dumps(told).encode() + b"\n")
                file.writelines(parts.values())
            Path(making).replace(path)
        except BaseException:
            Path(making).unlink(missing_ok=True)
            raise

    def read(self, key: str, name: str) -> bytes:
        """One part of a result; raises :class:`InputError` where the folder was tampered with."""
        path = self._path(key)
        try:
            with path.open("rb") as file:
                head = _head(file.readline(_LONGEST_HEAD))
                before = sum(size for other, (size, _) in _until(head, name))
                file.seek(before, os.SEEK_CUR)
                size, check = head[name]
                part = file.read(size)
            if zlib.crc32(part) != check:
                raise ValueError("its check sum is wrong")
        except (OSError, ValueError, KeyError) as fault:
            path.unlink(missing_ok=True)
            raise InputError(
                "finished work in the cache is damaged and was thrown away",
                where=Place(file=str(path)),
                remedy="Run the command again; only this is made anew.",
            ) from fault
        return part

    def trim(self, most_bytes: int = MOST_BYTES, spare: Iterable[str] = ()) -> int:
        """Throw the oldest results away until the folder is small enough; ``spare`` stay.

        Returns how many went.
        """
        safe = {self._path(key) for key in spare}
        found = [(p, p.stat()) for p in self.folder.glob("??/*") if p.is_file()]
        total = sum(told.st_size for _, told in found)
        gone = 0
        for path, told in sorted(found, key=lambda one: (one[1].st_mtime_ns, one[0])):
            if total <= most_bytes:
                break
            if path not in safe:
                path.unlink(missing_ok=True)
                total -= told.st_size
                gone += 1
        return gone

    @property
    def size(self) -> tuple[int, int]:
        """How many results there are, and how many bytes they take."""
        sizes = [path.stat().st_size for path in self.folder.glob("??/*") if path.is_file()]
        return len(sizes), sum(sizes)

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / key[2:]


def _head(line: bytes) -> dict[str, tuple[int, int]]:
    told = json.loads(line)
    return {str(name): (int(size), int(check)) for name, (size, check) in told.items()}


def _until(head: Mapping[str, tuple[int, int]], name: str) -> Iterable[tuple[str, tuple[int, int]]]:
    for other, place in head.items():
        if other == name:
            return
        yield other, place
