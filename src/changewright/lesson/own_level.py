"""A level of a teacher's own, read from a file and checked against what the families can do."""

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from changewright.errors import ChangewrightError, InputError, Place
from changewright.lesson.cells import rhythm_names
from changewright.lesson.family import family
from changewright.lesson.level import Level, level_from_toml
from changewright.theory.key import Key

__all__ = ["check_level", "read_level"]

_MOST_BYTES = 100_000
_REMEDY = "Copy one of the eight levels and change its numbers."


def read_level(path: Path) -> Level:
    """Read a teacher's own level from a file; raises :class:`InputError` naming the entry."""
    where = Place(file=path.name)
    try:
        with path.open("rb") as file:
            content = file.read(_MOST_BYTES + 1)
        if len(content) > _MOST_BYTES:
            raise InputError("the file is too long for a level", where=where, remedy=_REMEDY)
        text = content.decode("utf-8-sig")
    except OSError as fault:
        said = fault.strerror or str(fault)
        raise InputError(f"can't read the level: {said}", where=where) from fault
    except UnicodeDecodeError as fault:
        raise InputError(
            "can't read the level: this isn't text in UTF-8",
            where=where,
            remedy="Save the file as plain text in UTF-8.",
        ) from fault
    own = level_from_toml(text, path.name)
    check_level(own, path.name)
    return own


def check_level(own: Level, name: str = "level") -> None:
    """Raise an :class:`InputError` for an entry that nothing composes by: a key, rhythm or family
    that isn't known, or a family's setting that it doesn't read."""
    for said in _faults(own):
        raise InputError(said, where=Place(file=name), remedy=_REMEDY)


def _faults(own: Level) -> Iterator[str]:
    for key in own.keys:
        try:
            Key.parse(key)
        except ValueError:
            yield f"can't use keys: {key!r} is no key"
    for rhythm in own.rhythms:
        if rhythm not in rhythm_names():
            yield f"can't use rhythms: {rhythm!r} is none of {', '.join(rhythm_names())}"
    for named in own.first_families:
        try:
            found, _ = family(named)
        except ChangewrightError as fault:
            yield f"can't use first_families: {fault}"
            continue
        if found.since > own.number:
            yield f"can't use first_families: {named} begins at level {found.since}"
    for named, values in own.settings:
        known = _settings().get(named)
        if known is None:
            yield f"there is nothing to set for [family.{named}], only for {', '.join(_settings())}"
            continue
        for setting, value in values:
            if setting not in known:
                yield f"{setting} can't be set for [family.{named}], only {', '.join(known)}"
            elif wanted := _wanted(known[setting], value):
                yield f"can't use {setting} of [family.{named}]: write {wanted}"


def _wanted(allowed: Mapping[str, Any], value: Any) -> str:
    """What to write instead of a value that is not allowed; empty if it is."""
    ((kind, told),) = allowed.items()
    if kind == "truth":
        return "" if isinstance(value, bool) else "true or false"
    if kind == "one":
        return "" if value in told else f"one of {', '.join(told)}"
    if kind == "some":
        right = isinstance(value, tuple) and value and all(one in told for one in value)
        return "" if right else f"some of {', '.join(told)} in brackets"
    low, high = told
    if kind == "pair":
        right = isinstance(value, tuple) and len(value) == 2 and all(type(v) is int for v in value)
        right = right and low <= value[0] <= value[1] <= high
        return "" if right else f"two whole numbers from {low} to {high} in brackets, ascending"
    if kind == "whole":
        right = type(value) is int and low <= value <= high
        return "" if right else f"a whole number from {low} to {high}"
    right = type(value) in (int, float) and low <= value <= high
    return "" if right else f"a number from {low} to {high}"


@cache
def _settings() -> Mapping[str, Mapping[str, Mapping[str, Any]]]:
    text = files("changewright.lesson").joinpath("tables/settings.toml").read_text("utf-8")
    return tomllib.loads(text)
