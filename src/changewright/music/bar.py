"""Bars and changes as played: the grid on which everything else is placed."""

from dataclasses import dataclass
from fractions import Fraction

from changewright.theory.chord import Chord

__all__ = ["FOUR_FOUR", "Bar", "Change", "Meter", "Quarters", "beat_label"]

Quarters = Fraction
"""Exact notated time; a quarter note is 1."""


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature, such as ``Meter(6, 8)``."""

    beats: int = 4
    unit: int = 4

    def __post_init__(self) -> None:
        if not 1 <= self.beats <= 32 or self.unit not in (1, 2, 4, 8, 16):
            raise ValueError(f"not a meter: {self.beats}/{self.unit}")

    @property
    def beat(self) -> Quarters:
        """The length of one notated beat in quarters."""
        return Fraction(4, self.unit)

    @property
    def length(self) -> Quarters:
        """The length of a full bar in quarters."""
        return self.beats * self.beat

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


FOUR_FOUR = Meter(4, 4)


@dataclass(frozen=True, slots=True)
class Change:
    """One chord for a stretch of time. ``onset`` counts from the start of the chorus, in
    quarters; ``text`` is the symbol as the chart's author wrote it."""

    onset: Quarters
    duration: Quarters
    chord: Chord
    text: str

    def __post_init__(self) -> None:
        if self.duration <= 0 or self.onset < 0:
            raise ValueError("a change starts in the chorus and lasts")

    @property
    def end(self) -> Quarters:
        """Where the next change begins."""
        return self.onset + self.duration


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar as played: its number from 1, where it starts, its length and its changes.

    ``length`` differs from ``meter.length`` only in a pickup (bar number 0). ``label`` is the
    rehearsal letter if the section starts here. ``source`` is the bar's number in the chart as
    written (from 1), so that a repeat can be told from its first time. Changes tile the bar:
    a chord held over the bar line is a change of its own in each bar.
    """

    number: int
    start: Quarters
    length: Quarters
    meter: Meter
    changes: tuple[Change, ...]
    label: str = ""
    source: int = 0

    @property
    def end(self) -> Quarters:
        """Where the next bar begins."""
        return self.start + self.length

    def beat_of(self, onset: Quarters) -> str:
        """The beat, counted from 1, as people say it."""
        return beat_label(onset - self.start, self.meter)


def beat_label(offset: Quarters, meter: Meter) -> str:
    """Name an offset into a bar as a beat from 1: ``"1"``, ``"2.5"``, ``"3.33"``."""
    beat = 1 + offset / meter.beat
    return str(beat.numerator) if beat.denominator == 1 else f"{float(beat):.2f}".rstrip("0")
