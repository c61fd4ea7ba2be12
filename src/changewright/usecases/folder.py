"""Write a file or a folder whole or not at all."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from changewright.errors import InputError

__all__ = ["MANIFEST", "whole_file", "whole_folder"]

MANIFEST = "lesson.json"
"""The file by which a lesson folder is known."""


def whole_file(target: Path, content: bytes) -> None:
    """Put ``content`` in a file in one step: nobody ever sees half of it.

    Raises :class:`InputError` where there is a folder of that name.
    """
    target = target.absolute()
    if target.is_dir():
        raise InputError(
            f"{target.name} is a folder", remedy="Choose the name of a file with --output."
        )
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, made = tempfile.mkstemp(prefix=f".{target.name}-making-", dir=target.parent)
    making = Path(made)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        making.chmod(0o666 & ~_umask())
        making.replace(target)
    except BaseException:
        making.unlink(missing_ok=True)
        raise


@contextmanager
def whole_folder(target: Path, marker: str = MANIFEST) -> Iterator[Path]:
    """Give a temporary folder to fill; on success it becomes ``target``, on any error it is gone.

    An older folder of ours at ``target``, known by its ``marker`` file, is replaced. Anything else
    there is left alone and refused with :class:`InputError`, so that no one's files are lost.
    """
    target = target.absolute()
    _check_replaceable(target, marker)
    target.parent.mkdir(parents=True, exist_ok=True)
    making = Path(tempfile.mkdtemp(prefix=f".{target.name}-making-", dir=target.parent))
    try:
        yield making
        making.chmod(0o777 & ~_umask())
        _swap(making, target)
    except BaseException:
        shutil.rmtree(making, ignore_errors=True)
        raise


def _check_replaceable(target: Path, marker: str) -> None:
    if target.is_dir() and (not any(target.iterdir()) or (target / marker).is_file()):
        return
    if target.exists() or target.is_symlink():
        raise InputError(
            f"{target.name} is already there and was not made by this command",
            remedy="Choose another folder with --output.",
        )


def _swap(making: Path, target: Path) -> None:
    """Put the new folder in the old one's place; the old one goes last."""
    if not target.exists():
        making.rename(target)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{target.name}-old-", dir=target.parent))
    target.rename(old / target.name)
    making.rename(target)
    shutil.rmtree(old)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
