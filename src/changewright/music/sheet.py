"""The sheet: the one value that the composer writes, the page prints and the ear judges by."""

from dataclasses import dataclass, replace
from fractions import Fraction
from hashlib import sha256

from changewright.music.bar import Bar, Change, Quarters
from changewright.music.line import Line
from changewright.music.promise import Promise
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.spelling import Manner

__all__ = ["Recipe", "Sheet"]


@dataclass(frozen=True, slots=True)
class Recipe:
    """The label by which an exercise can be made again: same recipe, same notes.

    ``chart`` is the digest of the chart's canonical text; ``family`` and ``level`` are ids;
    ``key`` is the concert key as printed; ``instrument`` an instrument id. ``version`` is 1 for
    what was composed; a teacher's edit has a number of its own. ``phrases`` is the digest of a
    teacher's own phrases, empty without any; a melody is part of the chart. ``tempo_bpm`` is the
    tempo that was asked for, 0 where it is the level's own: phrases are as long as a breath.
    ``own_level`` is the digest of a level of the teacher's own, empty for one of the eight.
    """

    chart: str
    family: str
    level: int
    key: str
    instrument: str
    seed: int
    version: int = 1
    phrases: str = ""
    tempo_bpm: int = 0
    own_level: str = ""

    @property
    def label(self) -> str:
        """A short code for the page's foot, such as ``root-up/L1/F/7-3fa9c2``."""
        whole = "|".join(
            str(part)
            for part in (
                self.version,
                self.chart,
                self.family,
                self.level,
                self.key,
                self.instrument,
                self.seed,
                *((self.phrases,) if self.phrases else ()),
                *((f"{self.tempo_bpm} bpm",) if self.tempo_bpm else ()),
                *((self.own_level,) if self.own_level else ()),
            )
        )
        digest = sha256(whole.encode()).hexdigest()[:6]
        return f"{self.family}/L{self.level}/{self.key}/{self.seed}-{digest}"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One exercise, complete: bars with their changes, the line, and what it promises.

    Everything is at concert pitch; only the page writes for the instrument. ``tempo_bpm`` is
    quarters a minute. ``feel`` is the id of a feel of the band, ``instruction`` one short
    sentence for the player. ``spelling`` is the manner in which accidentals are written, at concert
    and at written pitch (see :mod:`changewright.theory.spelling`).
    """

    recipe: Recipe
    title: str
    instruction: str
    key: Key
    instrument: Instrument
    bars: tuple[Bar, ...]
    line: Line
    promises: tuple[Promise, ...]
    tempo_bpm: int
    feel: str = "swing"
    spelling: Manner = "usual"

    def __post_init__(self) -> None:
        if not self.bars:
            raise ValueError("a sheet has bars")
        if self.line.length != self.length:
            raise ValueError(f"the line lasts {self.line.length}, the bars {self.length}")

    @property
    def length(self) -> Quarters:
        """The whole length in quarters."""
        return self.bars[-1].end - self.bars[0].start

    @property
    def changes(self) -> tuple[Change, ...]:
        """All changes in order, one or more a bar."""
        return tuple(change for bar in self.bars for change in bar.changes)

    def bar_at(self, onset: Quarters) -> Bar:
        """The bar in which an onset lies; the last bar for anything later."""
        return next((b for b in self.bars if b.start <= onset < b.end), self.bars[-1])

    def change_at(self, onset: Quarters) -> Change:
        """The change in force at an onset."""
        bar = self.bar_at(onset)
        return next((c for c in bar.changes if c.onset <= onset < c.end), bar.changes[-1])

    def with_line(self, line: Line, promises: tuple[Promise, ...] | None = None) -> "Sheet":
        """The same sheet with another line (and promises)."""
        kept = self.promises if promises is None else promises
        return replace(self, line=line, promises=kept)

    def chord_onsets(self) -> tuple[Quarters, ...]:
        """Where the chord really changes: equal neighbours are merged; the first onset counts."""
        found: list[Quarters] = []
        before = None
        for change in self.changes:
            if change.chord != before:
                found.append(change.onset)
            before = change.chord
        return tuple(found) or (Fraction(0),)
