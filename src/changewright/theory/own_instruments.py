"""A player's own instruments, written in TOML beside the built-in table."""

import tomllib
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any, TypeVar

from changewright.errors import ChangewrightError, InputError, Place
from changewright.theory.instrument import (
    CLEFS,
    STAGES,
    Clef,
    Instrument,
    Span,
    Stage,
    clef_named,
    crossing,
    instruments,
)
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Pitch

__all__ = ["instrument_from_row", "instrument_row", "instruments_from_toml"]

_LARGEST = 200_000  # characters of TOML
_T = TypeVar("_T")
_FIELDS = (
    "name", "aliases", "clef", "written_up", *STAGES, "breath_s", "gm_program", "awkward",
    "awkward_notes", "crossings", "concert_keys",
)  # fmt: skip


def instruments_from_toml(text: str, source: str | None = None) -> Mapping[str, Instrument]:
    """The built-in instruments with those of a TOML text added; a table of the same id replaces.

    Each instrument is a table under ``instrument``. Ranges are written pitch; a range that is left
    out is that of the stage above. ``source`` names the file in errors. Raises
    :class:`InputError` with line, table and what to write.

    >>> own = instruments_from_toml('''
    ... [instrument.euphonium]
    ... name = "Euphonium"
    ... clef = "bass"
    ... written_up = "P1"
    ... professional = "E2 Bb4"
    ... beginner = "Bb2 D4"
    ... ''')
    >>> str(own["euphonium"].written_range("intermediate")), len(own)
    ('E2 to Bb4', 26)
    """
    reader = _Reader(text, source)
    own = reader.tables()
    return {**instruments(), **{name: reader.instrument(name, row) for name, row in own.items()}}


def instrument_row(known: Instrument) -> dict[str, Any]:
    """An instrument as the fields of its TOML table; :func:`instrument_from_row` reads it back.

    >>> from changewright.theory.instrument import instrument
    >>> row = instrument_row(instrument("horn"))
    >>> row["written_up"], row["beginner"], instrument_from_row("horn", row) == instrument("horn")
    ('P5', 'C4 C5', True)
    """
    row: dict[str, Any] = {
        "name": known.name,
        "aliases": list(known.aliases),
        "clef": known.clef,
        "written_up": str(known.written_up),
        **{stage: f"{span.low} {span.high}" for stage, span in known.written},
        "gm_program": known.gm_program,
        "awkward": known.awkward,
        "awkward_notes": [str(pitch) for pitch in known.awkward_notes],
        "crossings": [f"{low}-{high}" for low, high in known.crossings],
        "concert_keys": [str(key) for key in known.concert_keys],
    }
    return row if known.breath_s is None else {**row, "breath_s": list(known.breath_s)}


def instrument_from_row(name: str, row: Mapping[str, Any]) -> Instrument:
    """Read the fields of one instrument's table; raises :class:`InputError` for a wrong one."""
    return _Reader("", None, nested=False).instrument(name, dict(row))


class _Reader:
    """Reads one TOML text and knows where each thing stands in it."""

    def __init__(self, text: str, source: str | None, *, nested: bool = True) -> None:
        self.text = text
        self.source = source
        self.nested = nested  # what a person writes is checked for slips: each stage in the next

    def tables(self) -> dict[str, dict[str, Any]]:
        if len(self.text) > _LARGEST:
            raise self._fault("", "", f"the file is longer than {_LARGEST} characters")
        try:
            document = tomllib.loads(self.text)
        except (tomllib.TOMLDecodeError, RecursionError) as wrong:
            raise InputError(f"not TOML: {wrong}", where=Place(file=self.source)) from None
        tables = document.get("instrument")
        if not isinstance(tables, dict) or set(document) != {"instrument"}:
            raise self._fault("", "", "only tables like [instrument.euphonium] belong here")
        for name, row in tables.items():
            if not isinstance(row, dict):
                raise self._fault(name, "", "a table is wanted", "Write [instrument.NAME].")
        return tables

    def instrument(self, name: str, row: dict[str, Any]) -> Instrument:
        for field in row:
            if field not in _FIELDS:
                near = get_close_matches(field, _FIELDS, n=1)
                guess = f"Did you mean {near[0]}? " if near else ""
                what = f"unknown field {field!r}"
                raise self._fault(name, field, what, f"{guess}Known: {', '.join(_FIELDS)}.")
        return Instrument(
            id=" ".join(name.lower().split()),
            name=self._text(name, row, "name", name.capitalize()),
            aliases=tuple(self._texts(name, row, "aliases")),
            clef=self._clef(name, row),
            written_up=self._value(name, row, "written_up", Interval.parse, Interval(0, 0)),
            written=self._ranges(name, row),
            breath_s=self._breath(name, row),
            gm_program=self._program(name, row),
            awkward=self._text(name, row, "awkward", ""),
            awkward_notes=self._list(name, row, "awkward_notes", Pitch.parse),
            crossings=self._list(name, row, "crossings", crossing),
            concert_keys=self._list(name, row, "concert_keys", Key.parse),
        )

    # -- fields --------------------------------------------------------------------------------

    def _text(self, name: str, row: dict[str, Any], field: str, default: str) -> str:
        found = row.get(field, default)
        if not isinstance(found, str):
            raise self._fault(name, field, f"{field} is text in quotes, not {found!r}")
        return found

    def _texts(self, name: str, row: dict[str, Any], field: str) -> list[str]:
        found = row.get(field, [])
        if not isinstance(found, list) or not all(isinstance(f, str) for f in found):
            raise self._fault(name, field, f'{field} is a list of texts, such as ["C4", "D4"]')
        return found

    def _value(
        self, name: str, row: dict[str, Any], field: str, read: Callable[[str], _T], default: _T
    ) -> _T:
        if field not in row:
            return default
        return self._parsed(name, field, self._text(name, row, field, ""), read)

    def _list(
        self, name: str, row: dict[str, Any], field: str, read: Callable[[str], _T]
    ) -> tuple[_T, ...]:
        texts = self._texts(name, row, field)
        return tuple(self._parsed(name, field, text, read) for text in texts)

    def _parsed(self, name: str, field: str, text: str, read: Callable[[str], _T]) -> _T:
        try:
            return read(text)
        except (ValueError, ChangewrightError) as wrong:
            raise self._fault(name, field, f"{field}: {wrong}") from None

    def _clef(self, name: str, row: dict[str, Any]) -> Clef:
        if "clef" not in row:
            raise self._fault(name, "", "a clef is missing", f"Write one of {', '.join(CLEFS)}.")
        return self._parsed(name, "clef", self._text(name, row, "clef", ""), clef_named)

    def _ranges(self, name: str, row: dict[str, Any]) -> tuple[tuple[Stage, Span], ...]:
        found: dict[Stage, Span] = {}
        for stage, wider in zip(reversed(STAGES), (None, *reversed(STAGES)), strict=False):
            if stage in row:
                found[stage] = self._parsed(name, stage, self._text(name, row, stage, ""), _span)
            elif wider is None:
                remedy = 'Write the widest range, such as professional = "E3 G6".'
                raise self._fault(name, "", "the professional range is missing", remedy)
            else:
                found[stage] = found[wider]
            if self.nested and wider and not _lies_in(found[stage], found[wider]):
                raise self._fault(name, stage, f"the {stage} range is wider than the {wider} range")
        return tuple((stage, found[stage]) for stage in STAGES)

    def _breath(self, name: str, row: dict[str, Any]) -> tuple[float, float, float] | None:
        found = row.get("breath_s")
        if found is None:
            return None
        remedy = "Write three numbers of seconds: beginner, intermediate, professional."
        if not isinstance(found, list) or len(found) != 3 or not all(map(_is_seconds, found)):
            raise self._fault(name, "breath_s", f"breath_s can't be {found!r}", remedy)
        return float(found[0]), float(found[1]), float(found[2])

    def _program(self, name: str, row: dict[str, Any]) -> int:
        found = row.get("gm_program", 0)
        if type(found) is not int or not 0 <= found <= 127:
            raise self._fault(name, "gm_program", f"gm_program is 0 to 127, not {found!r}")
        return found

    # -- where ---------------------------------------------------------------------------------

    def _fault(self, name: str, field: str, what: str, remedy: str = "") -> InputError:
        where = Place(file=self.source, line=self._line(name, field))
        return InputError(
            f"instrument {name!r}: {what}" if name else what, where=where, remedy=remedy
        )

    def _line(self, name: str, field: str) -> int | None:
        """The line of a field, of its table, or None where neither is written plainly."""
        inside, place = False, None
        for number, line in enumerate(self.text.splitlines(), 1):
            bare = line.strip()
            if bare.startswith("["):
                inside = name in bare.strip("[]").replace('"', "").split(".")
                place = number if inside and name else place
            elif inside and field and bare.partition("=")[0].strip() == field:
                return number
        return place


def _span(text: str) -> Span:
    if len(text.split()) != 2:
        raise ValueError(f"not a range: {text!r}; write it like E3 G6")
    return Span.parse(text)


def _lies_in(inner: Span, outer: Span) -> bool:
    return inner.low in outer and inner.high in outer


def _is_seconds(found: object) -> bool:
    return type(found) in (int, float) and 0 < float(str(found)) < 3600
