"""A family of exercises: a short declaration of what is allowed, aimed at and preferred."""

import pkgutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from random import Random

from changewright.errors import UnknownName
from changewright.lesson.ground import Ground
from changewright.line.trellis import Trellis
from changewright.music.line import Note
from changewright.music.promise import Promise

__all__ = ["Family", "Plan", "families", "family"]


@dataclass(frozen=True, slots=True)
class Plan:
    """What a family makes of a ground: a trellis, and how a drawn line becomes notes.

    ``write`` turns the choices of one line into notes at concert pitch; ``promise`` says what
    the finished notes promise besides range and awkward notes; ``instruction`` is one short
    sentence for the player, ``remarks`` what he should know beyond it.
    """

    trellis: Trellis
    write: Callable[[Sequence[int]], tuple[Note, ...]]
    promise: Callable[[tuple[Note, ...]], tuple[Promise, ...]]
    instruction: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Family:
    """One family of exercises.

    ``id`` in plain words; ``title`` for the page; ``since`` the first level that has it;
    ``variants`` the forms that a teacher may ask for as ``id.variant``, the level's default
    where none is named; ``fallbacks`` what to give up, in order, where the range is too small
    ('' first: nothing). ``avoids`` says whether awkward notes are kept out; a scale can't leave
    a note out. ``wants_melody`` tells whether it needs a chart with a melody, ``checks``
    whether it tries what other families teach rather than teaches something of its own.
    """

    id: str
    title: str
    since: int
    about: str
    plan: Callable[[Ground, Random], Plan]
    variants: tuple[str, ...] = ()
    fallbacks: tuple[str, ...] = ("",)
    avoids: bool = True
    wants_melody: bool = False
    checks: bool = False


@cache
def families() -> dict[str, Family]:
    """All families by id, found as the modules of ``lesson/families``."""
    package = import_module("changewright.lesson.families")
    names = sorted(m.name for m in pkgutil.iter_modules(package.__path__))
    found = [import_module(f"{package.__name__}.{name}").FAMILY for name in names if name[0] != "_"]
    return {one.id: one for one in sorted(found, key=lambda one: (one.since, one.id))}


def family(name: str) -> tuple[Family, str]:
    """A family and a variant from ``id`` or ``id.variant``; raises :class:`UnknownName`."""
    head, _, variant = name.partition(".")
    if head not in families():
        raise UnknownName("family", head, families())
    found = families()[head]
    if variant and variant not in found.variants:
        raise UnknownName(f"variant of {head}", variant, found.variants or ("none",))
    return found, variant
