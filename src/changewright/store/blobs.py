"""Recordings in a folder, each under the digest of its bytes; whole or not there."""

import os
from collections.abc import Iterable, Iterator
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from secrets import token_hex

from changewright.errors import StoreError

__all__ = ["Blobs"]

_COMING = ".coming-"


class Blobs:
    """A content-addressed folder: ``ab/cdef...`` for the SHA-256 ``abcdef...``.

    A blob is written beside its place, forced to the disk and then renamed, so that a crash leaves
    the whole of it or none. Equal bytes are kept once.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def put(self, content: bytes) -> str:
        """Keep bytes and return their digest; on return they have reached the disk."""
        digest = sha256(content).hexdigest()
        place = self._place(digest)
        if place.exists() and sha256(place.read_bytes()).hexdigest() == digest:
            return digest
        _make_folder(place.parent)
        coming = place.parent / f"{_COMING}{token_hex(8)}"
        with coming.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        coming.replace(place)
        _force(place.parent)
        return digest

    def get(self, digest: str) -> bytes:
        """The bytes under a digest; raises :class:`StoreError` where they are gone or broken."""
        place = self._place(digest)
        try:
            content = place.read_bytes()
        except FileNotFoundError as fault:
            raise StoreError(
                f"the recording {digest[:12]} is not in the folder of recordings",
                remedy="Restore it from a backup with 'changewright restore'.",
            ) from fault
        if sha256(content).hexdigest() != digest:
            raise StoreError(
                f"the recording {digest[:12]} is damaged on the disk",
                remedy="Restore it from a backup with 'changewright restore'.",
            )
        return content

    def path(self, digest: str) -> Path | None:
        """Where the bytes under a digest lie, for whoever reads a file; None where they are
        gone."""
        place = self._place(digest)
        return place if place.is_file() else None

    def has(self, digest: str) -> bool:
        """True where something lies under a digest."""
        return self._place(digest).is_file()

    def digests(self) -> Iterator[str]:
        """All digests kept, in order."""
        if self.folder.is_dir():
            for place in sorted(self.folder.glob("??/*")):
                if not place.name.startswith("."):
                    yield place.parent.name + place.name

    def drop(self, digest: str) -> None:
        """Remove a blob: its bytes are written over first.

        PITFALL: a disk that moves its blocks about (an SSD, a copy-on-write file system, a
        snapshot) may keep old ones; that is beyond a program's reach.
        """
        place = self._place(digest)
        if not place.is_file():
            return
        with place.open("r+b") as file:
            file.write(b"\0" * place.stat().st_size)
            file.flush()
            os.fsync(file.fileno())
        place.unlink()
        _force(place.parent)

    def tidy(self, wanted: Iterable[str], before: datetime) -> tuple[str, ...]:
        """Drop what nobody refers to and what a crash left half-written, where it is older than
        ``before``: a younger one may be on its way in. Returns the digests that went."""
        kept, limit = set(wanted), before.timestamp()
        gone = tuple(
            digest
            for digest in self.digests()
            if digest not in kept and self._place(digest).stat().st_mtime < limit
        )
        for digest in gone:
            self.drop(digest)
        if self.folder.is_dir():
            for left in self.folder.glob(f"??/{_COMING}*"):
                if left.stat().st_mtime < limit:
                    left.unlink(missing_ok=True)
        return gone

    def _place(self, digest: str) -> Path:
        if len(digest) != 64 or not set(digest) <= set("0123456789abcdef"):
            raise StoreError(f"{digest[:80]!r} is no digest of a recording")
        return self.folder / digest[:2] / digest[2:]


def _make_folder(folder: Path) -> None:
    """Make a folder and its missing parents, each entry forced to the disk."""
    missing = [f for f in (folder, *folder.parents) if not f.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    for made in missing:
        _force(made.parent)


def _force(folder: Path) -> None:
    if os.name != "posix":  # pragma: no cover - a folder can't be opened elsewhere
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
