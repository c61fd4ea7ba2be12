"""Instruments: transposition, clef, written ranges by stage, breath.

Ranges in the table are written pitch, as players name them; this module also gives them at
concert pitch, which is what the rest of the house works in.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Literal

from changewright.errors import UnknownName
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Pitch

__all__ = [
    "CLEFS",
    "STAGES",
    "Clef",
    "Instrument",
    "Span",
    "Stage",
    "clef_named",
    "crossing",
    "instrument",
    "instruments",
]

Clef = Literal["treble", "treble8", "alto", "tenor", "bass"]
Stage = Literal["comfort", "beginner", "intermediate", "professional"]

CLEFS: tuple[Clef, ...] = ("treble", "treble8", "alto", "tenor", "bass")
STAGES: tuple[Stage, ...] = ("comfort", "beginner", "intermediate", "professional")


@dataclass(frozen=True, slots=True)
class Span:
    """A closed range of pitches, low to high."""

    low: Pitch
    high: Pitch

    def __post_init__(self) -> None:
        if self.low.midi > self.high.midi:
            raise ValueError(f"a range runs from low to high, not {self.low} to {self.high}")

    def __contains__(self, pitch: Pitch) -> bool:
        return self.low.midi <= pitch.midi <= self.high.midi

    def __str__(self) -> str:
        return f"{self.low} to {self.high}"

    def lowered(self, interval: Interval) -> "Span":
        """The range an interval lower: written to concert."""
        return Span(self.low - interval, self.high - interval)

    @classmethod
    def parse(cls, text: str) -> "Span":
        """Read ``D4 C6``."""
        low, _, high = text.strip().partition(" ")
        return cls(Pitch.parse(low), Pitch.parse(high))


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument as a writer for it must know it.

    ``written_up`` is the interval from concert up to written pitch. ``written`` maps each stage
    to its written range. ``breath_s`` is seconds of continuous playing for beginner,
    intermediate and professional, or None where breath is no limit. ``gm_program`` counts
    from 0. ``awkward`` says in words what ``awkward_notes`` (written pitches) and ``crossings``
    (pairs of written pitches not to be played back and forth by beginners) list.
    ``concert_keys`` are comfortable concert keys, empty where the voice decides.
    """

    id: str
    name: str
    aliases: tuple[str, ...]
    clef: Clef
    written_up: Interval
    written: tuple[tuple[Stage, Span], ...]
    breath_s: tuple[float, float, float] | None
    gm_program: int
    awkward: str
    awkward_notes: tuple[Pitch, ...] = ()
    crossings: tuple[tuple[Pitch, Pitch], ...] = ()
    concert_keys: tuple[Key, ...] = ()

    def written_range(self, stage: Stage) -> Span:
        """The written range at a stage."""
        return dict(self.written)[stage]

    def concert_range(self, stage: Stage) -> Span:
        """The sounding range at a stage."""
        return self.written_range(stage).lowered(self.written_up)

    def crosses(self, first: Pitch, second: Pitch) -> bool:
        """Tell whether two written pitches, in either order, are an awkward crossing."""
        pair = {first.midi, second.midi}
        return any({low.midi, high.midi} == pair for low, high in self.crossings)


@cache
def instruments() -> Mapping[str, Instrument]:
    """The built-in instruments by id."""
    table = files("changewright.theory").joinpath("tables/instruments.tsv").read_text("utf-8")
    rows = csv.DictReader(table.splitlines(), delimiter="\t")
    return MappingProxyType({row["id"]: _from_row(row) for row in rows})


def instrument(name: str, among: Mapping[str, Instrument] | None = None) -> Instrument:
    """One instrument by id, name or alias; raises :class:`UnknownName` listing those we know.

    ``among`` is the table to look in, the built-in one by default; see
    :func:`changewright.theory.own_instruments.instruments_from_toml`.
    """
    table = instruments() if among is None else among
    wanted = " ".join(name.lower().split())
    for known in table.values():
        names = (known.id, known.name, *known.aliases)
        if wanted in (n.lower() for n in names):
            return known
    raise UnknownName("instrument", name, table)


def _from_row(row: dict[str, str]) -> Instrument:
    breath = [float(s) for s in row["breath_s"].split()]
    return Instrument(
        id=row["id"],
        name=row["name"],
        aliases=tuple(a.strip() for a in row["aliases"].split(";") if a.strip()),
        clef=clef_named(row["clef"]),
        written_up=Interval.parse(row["written_up"]),
        written=tuple((stage, Span.parse(row[stage])) for stage in STAGES),
        breath_s=(breath[0], breath[1], breath[2]) if breath else None,
        gm_program=int(row["gm_program"]),
        awkward=row["awkward"],
        awkward_notes=tuple(map(Pitch.parse, row["awkward_notes"].split())),
        crossings=tuple(map(crossing, row["crossings"].split())),
        concert_keys=tuple(map(Key.parse, row["concert_keys"].split())),
    )


def crossing(text: str) -> tuple[Pitch, Pitch]:
    """Read a crossing such as ``C#5-D5``."""
    low, dash, high = text.partition("-")
    if not dash:
        raise ValueError(f"not a crossing: {text!r}; write it like C#5-D5")
    return Pitch.parse(low), Pitch.parse(high)


def clef_named(text: str) -> Clef:
    """A clef by name; raises :class:`UnknownName`."""
    for clef in CLEFS:
        if clef == text:
            return clef
    raise UnknownName("clef", text, CLEFS)
