"""A sheet as a plain document (for JSON) and back, exactly.

Shape of a sheet's document::

    {"recipe": {...}, "title": "...", "instruction": "...", "key": "F", "instrument": "flute",
     "tempo_bpm": 84, "feel": "swing", "spelling": "easy",
     "bars": [{"number": 1, "start": "0", "length": "4", "meter": "4/4", "label": "A",
               "source": 1, "changes": [{"onset": "0", "duration": "4", "symbol": "F7",
                                         "text": "F7"}]}],
     "notes": [{"onset": "0", "duration": "1", "pitch": "F3", "role": "chord tone",
                "degree": "1", "blank": false}],
     "length": "48",
     "promises": [{"kind": "Lands", "at": "0", "degrees": ["1"]}]}

An instrument that is not in the built-in table comes with its definition, as the fields of its
TOML table: ``"instrument": "euphonium", "instrument_is": {"clef": "treble", ...}``.
Times are exact fractions of a quarter written as strings (``"3/2"``); pitches are concert.
"""

import types
from collections.abc import Callable, Mapping
from dataclasses import fields
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from changewright.errors import InputError, LessonError
from changewright.music.bar import Bar, Change, Meter
from changewright.music.line import Line, Note, Role
from changewright.music.promise import Promise
from changewright.music.sheet import Recipe, Sheet
from changewright.theory.instrument import Instrument, instrument, instruments
from changewright.theory.key import Key
from changewright.theory.own_instruments import instrument_from_row, instrument_row
from changewright.theory.pitch import Degree, Interval, Name, Pitch
from changewright.theory.spelling import MANNERS, Manner
from changewright.theory.symbols import read_symbol, write_symbol

__all__ = ["Document", "promise_document", "promise_from", "sheet_document", "sheet_from"]

Document = dict[str, Any]
"""A JSON object: strings, numbers, booleans, None, lists and objects of these."""

_READERS: dict[type, Callable[[str], Any]] = {
    Fraction: Fraction,
    Degree: Degree.parse,
    Pitch: Pitch.parse,
    Name: Name.parse,
    Interval: lambda text: Interval(*map(int, text.split(":"))),
}


_UNFIT = (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError, InputError)


def sheet_document(sheet: Sheet) -> Document:
    """Write a sheet as a document; :func:`sheet_from` reads it back equal."""
    recipe = {f.name: getattr(sheet.recipe, f.name) for f in fields(sheet.recipe)}
    return {
        "recipe": recipe,
        "title": sheet.title,
        "instruction": sheet.instruction,
        "key": str(sheet.key),
        **_instrument_document(sheet.instrument),
        "tempo_bpm": sheet.tempo_bpm,
        "feel": sheet.feel,
        "spelling": sheet.spelling,
        "bars": [_bar_document(bar) for bar in sheet.bars],
        "notes": [_note_document(note) for note in sheet.line.notes],
        "length": str(sheet.line.length),
        "promises": [promise_document(promise) for promise in sheet.promises],
    }


def sheet_from(document: Mapping[str, Any]) -> Sheet:
    """Read a sheet's document; raises :class:`LessonError` where it is not one."""
    try:
        return Sheet(
            recipe=Recipe(**document["recipe"]),
            title=document["title"],
            instruction=document["instruction"],
            key=Key.parse(document["key"]),
            instrument=_instrument_from(document),
            bars=tuple(_bar_from(bar) for bar in document["bars"]),
            line=Line(
                tuple(_note_from(note) for note in document["notes"]), Fraction(document["length"])
            ),
            promises=tuple(promise_from(promise) for promise in document["promises"]),
            tempo_bpm=int(document["tempo_bpm"]),
            feel=document["feel"],
            spelling=_manner(document.get("spelling", "usual")),
        )
    except _UNFIT as fault:
        raise LessonError(
            f"not an exercise of a lesson: {type(fault).__name__}: {fault}",
            remedy="Make the lesson again with 'changewright lesson'.",
        ) from fault


def _manner(name: str) -> Manner:
    for manner in MANNERS:
        if manner == name:
            return manner
    raise ValueError(f"{name!r} is no manner of spelling")


def _instrument_document(player: Instrument) -> Document:
    """The id, and with an instrument of a player's own all that it is."""
    if instruments().get(player.id) == player:
        return {"instrument": player.id}
    return {"instrument": player.id, "instrument_is": instrument_row(player)}


def _instrument_from(document: Mapping[str, Any]) -> Instrument:
    name, row = document["instrument"], document.get("instrument_is")
    return instrument(name) if row is None else instrument_from_row(name, row)


def promise_document(promise: Promise) -> Document:
    """Write one promise, with its kind by name."""
    parts = {f.name: _plain(getattr(promise, f.name)) for f in fields(promise)}
    return {"kind": type(promise).__name__, **parts}


def promise_from(document: Mapping[str, Any]) -> Promise:
    """Read one promise."""
    kind = _promise_kinds()[document["kind"]]
    hints = get_type_hints(kind)
    parts = {name: _typed(value, hints[name]) for name, value in document.items() if name != "kind"}
    promise: Promise = kind(**parts)
    return promise


@cache
def _promise_kinds() -> dict[str, Any]:
    return {kind.__name__: kind for kind in get_args(Promise)}


def _bar_document(bar: Bar) -> Document:
    return {
        "number": bar.number,
        "start": str(bar.start),
        "length": str(bar.length),
        "meter": str(bar.meter),
        "label": bar.label,
        "source": bar.source,
        "changes": [
            {
                "onset": str(change.onset),
                "duration": str(change.duration),
                "symbol": write_symbol(change.chord),
                "text": change.text,
            }
            for change in bar.changes
        ],
    }


def _bar_from(document: Mapping[str, Any]) -> Bar:
    beats, unit = document["meter"].split("/")
    return Bar(
        number=int(document["number"]),
        start=Fraction(document["start"]),
        length=Fraction(document["length"]),
        meter=Meter(int(beats), int(unit)),
        changes=tuple(
            Change(
                Fraction(change["onset"]),
                Fraction(change["duration"]),
                read_symbol(change["symbol"]),
                change["text"],
            )
            for change in document["changes"]
        ),
        label=document["label"],
        source=int(document["source"]),
    )


def _note_document(note: Note) -> Document:
    return {f.name: _plain(getattr(note, f.name)) for f in fields(note)}


def _note_from(document: Mapping[str, Any]) -> Note:
    degree = document["degree"]
    return Note(
        onset=Fraction(document["onset"]),
        duration=Fraction(document["duration"]),
        pitch=Pitch.parse(document["pitch"]),
        role=Role(document["role"]),
        degree=None if degree is None else Degree.parse(degree),
        blank=bool(document["blank"]),
    )


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if isinstance(value, Interval):
        return f"{value.fifths}:{value.octaves}"
    return str(value)


def _typed(value: Any, hint: Any) -> Any:
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        inner = next(h for h in get_args(hint) if h is not type(None))
        return None if value is None else _typed(value, inner)
    if origin is tuple:
        args = get_args(hint)
        if len(args) == 2 and args[1] is Ellipsis:
            return tuple(_typed(v, args[0]) for v in value)
        return tuple(_typed(v, h) for v, h in zip(value, args, strict=True))
    if isinstance(hint, type) and issubclass(hint, Enum):
        return hint(value)
    reader = _READERS.get(hint)
    return reader(value) if reader else value
