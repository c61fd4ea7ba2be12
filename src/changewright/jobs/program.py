"""Which program makes a result: a hash over what the work is made of, its tables and engines."""

import re
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

__all__ = ["program_digest", "program_files"]

_PACKAGE = "changewright"
_HOME = Path(__file__).parents[1]
_READ = (".py", ".toml", ".tsv", ".txt", ".typ", ".otf", ".ttf", ".zip")
_ENGINES = ("verovio", "typst", "numpy", "soundfile")
# Rooms of many errands: a work is made of the modules that it imports there, no others.
_BY_MODULE = ("usecases", "jobs")
_IMPORT = re.compile(
    rf"^[ \t]*(?:from[ \t]+({_PACKAGE}[\w.]*)[ \t]+import[ \t]+(\([^)]*\)|[^\n]*)"
    rf"|import[ \t]+({_PACKAGE}[\w.]*))",
    re.M,
)


@cache
def program_digest(module: str) -> str:
    """A hash that changes with the code, tables and fonts that a module's works depend on, or
    with an engine's version.

    Work that an older program kept is then made anew, without anybody having to know; a change
    to another part of the package leaves it as it is.
    """
    told = sha256()
    for engine in _ENGINES:
        told.update(f"{engine} {_version(engine)}\n".encode())
    for path in program_files(module):
        told.update(path.encode() + b"\0" + _digest(_HOME / path))
    return told.hexdigest()


@cache
def program_files(module: str) -> tuple[str, ...]:
    """The files of the package that a module depends on, in order, inside the package's folder.

    Imports are followed. Of most rooms all files count, since they find their tables, and some of
    their modules, by name. A module from outside the package may depend on all of it.
    """
    if not module.startswith(f"{_PACKAGE}."):
        return tuple(sorted(map(_inside, _files(_HOME))))
    places, files = [_place(module)], []
    for place in places:
        inside = list(_files(_HOME / place))
        files += inside
        names = {name for path in inside if path.suffix == ".py" for name in _imports(path)}
        places += sorted({_place(name) for name in names} - {*places, ""})
    return tuple(sorted(map(_inside, files)))


def _place(module: str) -> str:
    """Where in the package a module's files lie: its room, or a file of its own."""
    _, room, *below = (*module.split("."), "")
    if not room:
        return ""
    if room not in _BY_MODULE:
        return room if (_HOME / room).is_dir() else f"{room}.py"
    file = f"{room}/{below[0]}.py"
    return file if (_HOME / file).is_file() else ""


def _files(place: Path) -> Iterator[Path]:
    if place.is_file():
        yield place
    yield from (p for p in place.rglob("*") if p.name.endswith(_READ) and p.is_file())


def _imports(path: Path) -> Iterator[str]:
    for package, names, module in _IMPORT.findall(path.read_text("utf-8")):
        yield package or module
        if package:
            yield from (f"{package}.{name}" for name in re.findall(r"\w+", names))


def _inside(path: Path) -> str:
    return path.relative_to(_HOME).as_posix()


@cache
def _digest(path: Path) -> bytes:
    return sha256(path.read_bytes()).digest()


def _version(engine: str) -> str:
    try:
        return version(engine)
    except PackageNotFoundError:
        return "none"
