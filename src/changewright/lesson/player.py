"""The player for whom an exercise is made: instrument, range and what to keep away from."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from changewright.lesson.level import Level
from changewright.theory.instrument import Instrument, Span, Stage, instruments
from changewright.theory.pitch import Pitch
from changewright.theory.spelling import Manner

__all__ = ["Player"]

_OWN_UNTIL = 4
"""The last level at which an instrument's awkward notes are kept away from, for most of them."""


@dataclass(frozen=True, slots=True)
class Player:
    """One student on one instrument.

    ``stage`` overrides the level's (a player who returns from another style reads higher than
    his harmony); ``span`` is his own range at concert pitch and overrides both. ``breath_s`` is
    seconds of playing in one breath, otherwise the instrument's table is used. ``spelling`` is
    the manner in which he wants accidentals written, None for his level's.
    """

    instrument: Instrument
    stage: Stage | None = None
    span: Span | None = None
    breath_s: float | None = None
    spelling: Manner | None = None

    def spans(self, level: Level) -> tuple[Span, ...]:
        """The ranges to write in at concert pitch, the most comfortable first."""
        if self.span is not None:
            return (self.span,)
        stage = self.stage or level.stage
        stages: tuple[Stage, ...] = ("comfort", "beginner") if stage == "comfort" else (stage,)
        return tuple(self.instrument.concert_range(s) for s in stages)

    def awkward(self, level: Level) -> tuple[Pitch, ...]:
        """Concert pitches that a writer keeps away from at this level.

        Those of a player's own instrument hold as long as the table's. Source: common practice,
        no source (the table gives the reason for each).
        """
        known = instruments().get(self.instrument.id)
        if known != self.instrument:
            own = self.instrument.awkward_notes if level.number <= _OWN_UNTIL else ()
            return tuple(pitch - self.instrument.written_up for pitch in own)
        return tuple(
            pitch - self.instrument.written_up
            for name, pitch, until in _awkward()
            if name == self.instrument.id and level.number <= until
        )

    def manner(self, level: Level) -> Manner:
        """How accidentals are written: as he wants, else easily where the level says so."""
        return self.spelling or ("easy" if level.easy_spelling else "usual")

    def breath(self, level: Level) -> float | None:
        """Seconds of playing in one breath, or None where breath is no limit."""
        if self.breath_s is not None or self.instrument.breath_s is None:
            return self.breath_s
        beginner, intermediate, professional = self.instrument.breath_s
        by_stage = {"intermediate": intermediate, "professional": professional}
        return by_stage.get(self.stage or level.stage, beginner)


@cache
def _awkward() -> tuple[tuple[str, Pitch, int], ...]:
    table = files("changewright.lesson").joinpath("tables/awkward.tsv").read_text("utf-8")
    rows = csv.DictReader(table.splitlines(), delimiter="\t")
    return tuple(
        (row["instrument"], Pitch.parse(name), int(row["until_level"]))
        for row in rows
        for name in row["written"].split()
    )
