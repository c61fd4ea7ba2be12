"""Which program makes a result: a hash over its own text, its tables and its engines."""

from collections.abc import Callable
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from importlib.resources.abc import Traversable

__all__ = ["program_digest"]

_READ = (".py", ".toml", ".tsv", ".typ", ".otf", ".ttf")
_ENGINES = ("verovio", "typst", "numpy", "soundfile")


@cache
def program_digest() -> str:
    """A hash that changes with the package's code, tables, fonts, or an engine's version.

    Work that an older program kept is then made anew, without anybody having to know.
    """
    told = sha256()
    for engine in _ENGINES:
        told.update(f"{engine} {_version(engine)}\n".encode())
    _add(files("changewright"), told.update, "")
    return told.hexdigest()


def _version(engine: str) -> str:
    try:
        return version(engine)
    except PackageNotFoundError:
        return "none"


def _add(folder: Traversable, update: Callable[[bytes], None], inside: str) -> None:
    for entry in sorted(folder.iterdir(), key=lambda one: one.name):
        name = f"{inside}/{entry.name}"
        if entry.is_dir():
            _add(entry, update, name)
        elif entry.name.endswith(_READ):
            update(name.encode() + b"\0" + sha256(entry.read_bytes()).digest())
