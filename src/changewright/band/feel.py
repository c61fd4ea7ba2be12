"""Feels: how a rhythm section plays, one declarative file each.

A feel's file says which rhythms the players choose from; how they are voiced, connected and
shaped is the players' craft, the same for all feels. See docs/band.md for the file's words.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from changewright.band.pattern import Pattern, read_pattern
from changewright.errors import InputError, Place, UnknownName

__all__ = [
    "PIECES",
    "BassManner",
    "CompManner",
    "DrumManner",
    "Feel",
    "Groove",
    "Patterns",
    "feel",
    "feels",
    "read_feel",
]

Patterns = Mapping[int, tuple[Pattern, ...]]
"""Alternatives by the number of beats they last."""

Groove = Mapping[int, Pattern]
"""A rhythm for each piece of a kit, by General MIDI percussion key."""

PIECES: Mapping[str, int] = MappingProxyType(
    {
        "kick": 36,
        "cross-stick": 37,
        "snare": 38,
        "brush-slap": 39,
        "brush-sweep": 40,
        "floor-tom": 41,
        "closed-hat": 42,
        "foot-hat": 44,
        "low-tom": 45,
        "open-hat": 46,
        "high-tom": 48,
        "crash": 49,
        "ride": 51,
        "bell": 53,
        "tambourine": 54,
        "cowbell": 56,
        "ride-2": 59,
        "cabasa": 69,
        "maracas": 70,
        "claves": 75,
        "shaker": 82,
    }
)
"""Pieces by name. Source: General MIDI Level 1 percussion key map (MMA RP-003); the brush kit of
the note bank has a slap at 39 and a sweep at 40."""


@dataclass(frozen=True, slots=True)
class BassManner:
    """How the bass plays. ``walks`` is True where every beat is a note of a composed line;
    otherwise one of ``patterns`` gives rhythm and degrees. ``skips`` is the share of bars with a
    ghosted skip note; ``two_first`` plays the first of several choruses in two."""

    program: int
    walks: bool
    two_first: bool
    skips: float
    patterns: Patterns
    two: Patterns


@dataclass(frozen=True, slots=True)
class CompManner:
    """How chords are played. ``cells`` are rhythms; ``density`` the hits a bar aimed at;
    ``short`` the share of its written length that a hit sounds."""

    program: int
    cells: Patterns
    density: float
    short: float


@dataclass(frozen=True, slots=True)
class DrumManner:
    """How the drums play: a kit, the time kept by each piece, remarks, and fills."""

    kit: int
    time: Mapping[int, Groove]
    remarks: Mapping[int, tuple[Groove, ...]]
    fills: Mapping[int, tuple[Groove, ...]]
    remark_rate: float
    crash: bool


@dataclass(frozen=True, slots=True)
class Feel:
    """A way of playing time.

    ``tempo`` is the range of quarters a minute that it is meant for. ``swung`` feels place binary
    subdivisions by the swing relation, others evenly. ``also`` are other names that charts use.
    """

    id: str
    name: str
    also: tuple[str, ...]
    about: str
    tempo: tuple[int, int]
    swung: bool
    bass: BassManner
    comping: CompManner
    drums: DrumManner


@cache
def feels() -> dict[str, Feel]:
    """All feels by id, in alphabetical order."""
    folder = files("changewright.band").joinpath("feels")
    found = sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)
    read = (read_feel(f.read_text("utf-8"), f.name) for f in found)
    return {one.id: one for one in read}


def feel(name: str) -> Feel:
    """One feel by id or name; raises :class:`UnknownName` listing those we know."""
    wanted = " ".join(name.lower().replace("-", " ").split())
    for known in feels().values():
        if wanted in (known.id.replace("-", " "), known.name.lower(), *known.also):
            return known
    raise UnknownName("feel", name, feels())


def read_feel(text: str, file: str = "feel.toml") -> Feel:
    """Read a feel from its file's text; raises :class:`InputError` naming what is wrong."""
    try:
        return _feel(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"not a TOML file: {error}", where=Place(file=file)) from error
    except KeyError as error:
        raise InputError(
            f"a feel needs {error.args[0]!r}",
            where=Place(file=file),
            remedy="See docs/band.md for what a feel's file holds.",
        ) from error
    except (TypeError, ValueError, AttributeError) as error:
        raise InputError(f"this feel can't be used: {error}", where=Place(file=file)) from error


def _feel(row: Mapping[str, Any]) -> Feel:
    low, high = row["tempo"]
    return Feel(
        id=row["id"],
        name=row["name"],
        also=tuple(" ".join(one.lower().replace("-", " ").split()) for one in row.get("also", ())),
        about=row["about"],
        tempo=(int(low), int(high)),
        swung=bool(row["swung"]),
        bass=_bass(row["bass"]),
        comping=_comping(row["comping"]),
        drums=_drums(row["drums"]),
    )


def _bass(row: Mapping[str, Any]) -> BassManner:
    return BassManner(
        program=int(row["program"]),
        walks=bool(row["walks"]),
        two_first=bool(row.get("two_first", False)),
        skips=float(row.get("skips", 0)),
        patterns=_by_beats(row.get("patterns", {})),
        two=_by_beats(row.get("two", {})),
    )


def _comping(row: Mapping[str, Any]) -> CompManner:
    return CompManner(
        program=int(row["program"]),
        cells=_by_beats(row["cells"]),
        density=float(row["density"]),
        short=float(row["short"]),
    )


def _drums(row: Mapping[str, Any]) -> DrumManner:
    return DrumManner(
        kit=int(row["kit"]),
        time={int(n): _groove(int(n), one) for n, one in row["time"].items()},
        remarks=_grooves(row.get("remarks", {})),
        fills=_grooves(row.get("fills", {})),
        remark_rate=float(row.get("remark_rate", 0.5)),
        crash=bool(row.get("crash", True)),
    )


def _grooves(row: Mapping[str, Any]) -> Mapping[int, tuple[Groove, ...]]:
    return {int(n): tuple(_groove(int(n), one) for one in many) for n, many in row.items()}


def _groove(beats: int, row: Mapping[str, str]) -> Groove:
    for piece in row:
        if piece not in PIECES:
            raise ValueError(f"no piece of the kit is called {piece!r}: {', '.join(PIECES)}")
    return {PIECES[piece]: read_pattern(text, beats) for piece, text in row.items()}


def _by_beats(row: Mapping[str, Any]) -> Patterns:
    return {int(n): tuple(read_pattern(text, int(n)) for text in many) for n, many in row.items()}
