"""Instruments: transposition, clef, written ranges by stage, breath.

Ranges in the table are written pitch, as players name them; this module also gives them at
concert pitch, which is what the rest of the house works in.
"""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from changewright.errors import UnknownName
from changewright.theory.pitch import Interval, Pitch

__all__ = ["Clef", "Instrument", "Span", "Stage", "instrument", "instruments"]

Clef = Literal["treble", "treble8", "alto", "tenor", "bass"]
Stage = Literal["comfort", "beginner", "intermediate", "professional"]


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
        low, high = text.split()
        return cls(Pitch.parse(low), Pitch.parse(high))


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument as a writer for it must know it.

    ``written_up`` is the interval from concert up to written pitch. ``written`` maps each stage
    to its written range. ``breath_s`` is seconds of continuous playing for beginner,
    intermediate and professional, or None where breath is no limit. ``gm_program`` counts
    from 0.
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

    def written_range(self, stage: Stage) -> Span:
        """The written range at a stage."""
        return dict(self.written)[stage]

    def concert_range(self, stage: Stage) -> Span:
        """The sounding range at a stage."""
        return self.written_range(stage).lowered(self.written_up)


@cache
def instruments() -> dict[str, Instrument]:
    """All instruments by id."""
    table = files("changewright.theory").joinpath("tables/instruments.tsv").read_text("utf-8")
    rows = csv.DictReader(table.splitlines(), delimiter="\t")
    return {row["id"]: _from_row(row) for row in rows}


def instrument(name: str) -> Instrument:
    """One instrument by id, name or alias; raises :class:`UnknownName` listing those we know."""
    wanted = " ".join(name.lower().split())
    for known in instruments().values():
        if wanted in (known.id, known.name.lower(), *known.aliases):
            return known
    raise UnknownName("instrument", name, instruments())


def _from_row(row: dict[str, str]) -> Instrument:
    stages: tuple[Stage, ...] = ("comfort", "beginner", "intermediate", "professional")
    breath = [float(s) for s in row["breath_s"].split()]
    return Instrument(
        id=row["id"],
        name=row["name"],
        aliases=tuple(a.strip() for a in row["aliases"].split(";") if a.strip()),
        clef=_clef(row["clef"]),
        written_up=Interval.parse(row["written_up"]),
        written=tuple((stage, Span.parse(row[stage])) for stage in stages),
        breath_s=(breath[0], breath[1], breath[2]) if breath else None,
        gm_program=int(row["gm_program"]),
        awkward=row["awkward"],
    )


def _clef(text: str) -> Clef:
    clefs: tuple[Clef, ...] = ("treble", "treble8", "alto", "tenor", "bass")
    for clef in clefs:
        if clef == text:
            return clef
    raise UnknownName("clef", text, clefs)
