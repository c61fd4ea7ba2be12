"""Levels as tables of limits: note values, tempo, range, leaps, keys. A teacher may write more."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any, cast, get_args

from changewright.errors import InputError, Place, UnknownName
from changewright.music.bar import Quarters
from changewright.theory.instrument import Stage

__all__ = ["Level", "level", "level_from_toml", "levels"]


@dataclass(frozen=True, slots=True)
class Level:
    """What a student at a level is asked for.

    ``number`` is the rung from 1 to 8 on which families, band and listening take it to stand;
    ``note_values`` are quarters; ``tempo_bpm`` is the band of quarters a minute; ``keys`` are
    concert keys; ``widest_leap`` is in semitones; ``phrase_bars`` are bars to play and to rest;
    ``rhythms`` name cells of the rhythm vocabulary; ``settings`` hold what single families read.
    """

    number: int
    name: str
    who: str
    stage: Stage
    note_values: tuple[Quarters, ...]
    tempo_bpm: tuple[int, int]
    keys: tuple[str, ...]
    written_accidentals: int
    widest_leap: int
    notes_a_bar: tuple[int, int]
    chromatic_share: float
    phrase_bars: tuple[int, int]
    rhythms: tuple[str, ...]
    easy_spelling: bool
    first_families: tuple[str, ...]
    settings: tuple[tuple[str, tuple[tuple[str, Any], ...]], ...] = ()

    def setting(self, family: str, name: str, default: Any) -> Any:
        """A family's own setting at this level, or its default."""
        return dict(dict(self.settings).get(family, ())).get(name, default)

    @property
    def shortest(self) -> Quarters:
        """The shortest note value."""
        return min(self.note_values)

    @property
    def usual_tempo_bpm(self) -> int:
        """A tempo a third of the way up the band, in even numbers."""
        low, high = self.tempo_bpm
        return 2 * round((low + (high - low) / 3) / 2)


@cache
def levels() -> dict[int, Level]:
    """The eight levels by number."""
    folder = files("changewright.lesson").joinpath("levels")
    read = (
        level_from_toml(entry.read_text("utf-8"), entry.name)
        for entry in folder.iterdir()
        if entry.name.endswith(".toml")
    )
    return {one.number: one for one in sorted(read, key=lambda one: one.number)}


def level(number: int) -> Level:
    """One of the eight levels; raises :class:`UnknownName` with the list."""
    if number not in levels():
        raise UnknownName("level", str(number), (f"{n} ({v.name})" for n, v in levels().items()))
    return levels()[number]


def level_from_toml(text: str, name: str = "level") -> Level:
    """Read a level's table; raises :class:`InputError` naming the faulty line's key."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise _fault(f"not TOML: {fault}", name) from fault
    settings = table.pop("family", {})
    missing = [k for k in _READERS if k not in table]
    unknown = [k for k in table if k not in _READERS]
    if missing or unknown:
        said = f"misses {', '.join(missing)}" if missing else f"has unknown {', '.join(unknown)}"
        raise _fault(f"the level {said}", name)
    parts = {key: _read(key, table[key], name) for key in _READERS}
    return Level(**parts, settings=_settings(settings, name))


def _fault(what: str, name: str) -> InputError:
    remedy = "Copy one of the eight levels and change its numbers."
    return InputError(what, where=Place(file=name), remedy=remedy)


def _read(key: str, value: Any, name: str) -> Any:
    try:
        return _READERS[key](value)
    except (TypeError, ValueError, ZeroDivisionError) as fault:
        raise _fault(f"can't use {key} = {value!r}: {fault}", name) from fault


def _settings(table: Any, name: str) -> tuple[tuple[str, tuple[tuple[str, Any], ...]], ...]:
    if not isinstance(table, Mapping) or not all(isinstance(v, Mapping) for v in table.values()):
        raise _fault("family settings are written as [family.NAME] tables", name)
    return tuple(
        (family, tuple((k, tuple(v) if isinstance(v, list) else v) for k, v in values.items()))
        for family, values in table.items()
    )


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError("write a text in quotes")
    return value


def _texts(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not value:
        raise ValueError("write a list of texts in quotes")
    return tuple(_text(v) for v in value)


def _whole(low: int, high: int) -> Any:
    def read(value: Any) -> int:
        if type(value) is not int or not low <= value <= high:
            raise ValueError(f"write a whole number from {low} to {high}")
        return value

    return read


def _pair(low: int, high: int) -> Any:
    def read(value: Any) -> tuple[int, int]:
        if not isinstance(value, list) or len(value) != 2:
            raise ValueError("write two whole numbers in brackets")
        first, second = (_whole(low, high)(v) for v in value)
        return first, second

    return read


def _band(low: int, high: int) -> Any:
    def read(value: Any) -> tuple[int, int]:
        least, most = _pair(low, high)(value)
        if least > most:
            raise ValueError("write the smaller number first")
        return least, most

    return read


def _phrase(value: Any) -> tuple[int, int]:
    play, rest = _pair(0, 64)(value)
    if play < 1:
        raise ValueError("write at least one bar to play")
    return play, rest


def _share(value: Any) -> float:
    if not isinstance(value, int | float) or not 0 <= value <= 1:
        raise ValueError("write a share from 0 to 1")
    return float(value)


def _truth(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("write true or false")
    return value


def _values(value: Any) -> tuple[Quarters, ...]:
    read = tuple(sorted(Fraction(v) for v in _texts(value)))
    if not all(Fraction(1, 8) <= v <= 16 for v in read):
        raise ValueError("note values lie between 1/8 and 16 quarters")
    return read


def _stage(value: Any) -> Stage:
    if value not in get_args(Stage):
        raise ValueError(f"a stage is one of {', '.join(get_args(Stage))}")
    return cast(Stage, value)


_READERS: dict[str, Any] = {
    "number": _whole(1, 8),
    "name": _text,
    "who": _text,
    "stage": _stage,
    "note_values": _values,
    "tempo_bpm": _band(20, 400),
    "keys": _texts,
    "written_accidentals": _whole(0, 7),
    "widest_leap": _whole(2, 127),
    "notes_a_bar": _band(1, 64),
    "chromatic_share": _share,
    "phrase_bars": _phrase,
    "rhythms": _texts,
    "easy_spelling": _truth,
    "first_families": _texts,
}
