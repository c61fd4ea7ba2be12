"""Stems kept by what they are: the same performance is sounded once and found again.

The folder's name is a digest of every event, of the note bank and of the balance, so a change of
any of them sounds anew; nothing is ever out of date.
"""

import os
import shutil
import struct
from functools import cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from tempfile import mkdtemp

from changewright.errors import UnknownName
from changewright.music.performance import Performance
from changewright.sound.bank import INDEXES
from changewright.sound.files import FORMATS, stream_stems
from changewright.sound.levelling import LOUDNESS_LUFS, TRUE_PEAK_DBTP
from changewright.sound.stems import BALANCE_DB

__all__ = ["digest_of", "kept_stems"]

_VERSION = 2  # raise when the mixing changes


def kept_stems(performance: Performance, shelf: Path, format: str = "flac") -> tuple[Path, ...]:
    """The stems of a performance on a shelf, the mix last; sounded now if they aren't there yet.

    They are written aside and then moved in one step, so a reader never finds half of them, and
    two writers of the same performance do no harm. Raises :class:`UnknownName` for a format that
    we don't write.
    """
    if format not in FORMATS:
        raise UnknownName("audio format", format, FORMATS)
    home = shelf / digest_of(performance) / format
    names = [*(part.name for part in performance.parts), "mix"]
    wanted = tuple(home / f"{name}.{format}" for name in names)
    if not all(path.is_file() for path in wanted):
        home.parent.mkdir(parents=True, exist_ok=True)
        making = Path(mkdtemp(prefix=".making-", dir=home.parent))
        try:
            stream_stems(performance, making, format)
            _moved(making, home)
        finally:
            shutil.rmtree(making, ignore_errors=True)
    return wanted


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
    bank = files("changewright.sound")
    index = b"".join(bank.joinpath(name).read_bytes() for name in INDEXES)
    balance = f"{_VERSION}|{sorted(BALANCE_DB.items())}|{LOUDNESS_LUFS}|{TRUE_PEAK_DBTP}"
    return sha256(index + balance.encode()).digest()


def _moved(making: Path, home: Path) -> None:
    try:
        os.replace(making, home)
    except OSError:
        if not home.is_dir():
            raise
        for path in making.iterdir():  # another writer was first, or files were missing
            os.replace(path, home / path.name)
