"""The only place where notated time becomes performed time, and back."""

from dataclasses import dataclass
from fractions import Fraction

from changewright.music.bar import Quarters

__all__ = ["Clock", "Seconds"]

Seconds = float
"""Performed time, from the first sample of the recording."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Convert quarters to seconds at a tempo, with swing and a lead-in.

    ``bpm`` is quarters a minute. ``swing_ratio`` is long to short of a pair of eighths: 1 is
    even, 2 is a triplet's two to one. ``lead_in`` is how many quarters (a count-in) come before
    quarter 0. The same line may be performed by two clocks that differ only in swing: the ride
    swings more than the soloist.

    PITFALL: swing moves the binary subdivisions of a beat and leaves triplets where they are, so
    :meth:`to_seconds` is exact note by note but not one smooth curve; :meth:`to_quarters` inverts
    the binary part only.
    """

    bpm: float
    swing_ratio: float = 1.0
    lead_in: Quarters = Fraction(0)

    def __post_init__(self) -> None:
        if not 20 <= self.bpm <= 400:
            raise ValueError(f"a tempo lies between 20 and 400 quarters a minute, not {self.bpm}")
        if not 1 <= self.swing_ratio <= 4:
            raise ValueError(f"a swing ratio lies between 1 and 4, not {self.swing_ratio}")

    @property
    def quarter_s(self) -> Seconds:
        """Seconds a quarter."""
        return 60 / self.bpm

    @property
    def offbeat(self) -> float:
        """Where the second eighth of a beat falls, as a share of the beat; 0.5 is even."""
        return self.swing_ratio / (1 + self.swing_ratio)

    def to_seconds(self, onset: Quarters) -> Seconds:
        """When a notated onset sounds; negative quarters lie in the lead-in."""
        beat, part = divmod(onset, 1)
        return float(self.lead_in + beat) * self.quarter_s + self._swung(part) * self.quarter_s

    def to_quarters(self, at_s: Seconds) -> float:
        """Which notated time an instant belongs to (a float: people don't play fractions)."""
        position = at_s / self.quarter_s - float(self.lead_in)
        beat, part = divmod(position, 1.0)
        if part < self.offbeat:
            return beat + part / self.offbeat / 2
        return beat + 0.5 + (part - self.offbeat) / (1 - self.offbeat) / 2

    def _swung(self, part: Fraction) -> float:
        if part.denominator % 3 == 0:
            return float(part)
        if part < Fraction(1, 2):
            return float(part) * 2 * self.offbeat
        return self.offbeat + (float(part) - 0.5) * 2 * (1 - self.offbeat)
