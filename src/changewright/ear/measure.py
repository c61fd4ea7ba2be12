"""One measured thing of a solo, with what it may be compared to."""

from dataclasses import dataclass

__all__ = ["Measure"]

FEW = 8


@dataclass(frozen=True, slots=True)
class Measure:
    """A value in its ``unit`` over ``count`` cases.

    ``chance`` is what random pitches would score; ``record`` the tenth, fiftieth and ninetieth
    of a hundred solos on record; ``middle`` is the fiftieth where only that is known. All are None
    where not measured. Source of the record: measured
    over 338 annotated solos (151,425 notes, swing 4/4) of an open corpus of jazz solos.
    """

    id: str
    name: str
    value: float
    unit: str
    count: int
    chance: float | None = None
    record: tuple[float, float, float] | None = None
    detail: str = ""
    middle: float | None = None

    @property
    def lift(self) -> float | None:
        """How far above chance, as a share of what lies above chance."""
        if self.chance is None:
            return None
        return (self.value - self.chance) / (1 - self.chance)

    @property
    def met(self) -> int:
        """Of a share, how many of the counted cases it is."""
        return round(self.value * self.count)

    @property
    def inside_record(self) -> bool | None:
        """Whether the value lies where four of five solos on record lie; small counts say
        nothing."""
        if self.record is None or self.count < FEW:
            return None
        return self.record[0] <= self.value <= self.record[2]

    def sentence(self, compared: bool) -> str:
        """The measure in words; beside the record where that is fair, never a grade."""
        parts = [f"{self.name}: {self.said(self.value)}"]
        if self.detail:
            parts.append(self.detail)
        if self.chance is not None:
            parts.append(f"by chance {self.said(self.chance)}")
        if compared and self.record is not None and self.count >= FEW:
            low, _, high = self.record
            parts.append(f"on record {self.number(low)} to {self.said(high)}")
        if compared and self.middle is not None and self.count >= FEW:
            parts.append(f"on record {self.said(self.middle)}")
        return f"{', '.join(parts)} ({self.count} counted)."

    def number(self, value: float) -> str:
        """A value of this measure as a number; shares are of 100."""
        if self.unit == "share":
            return f"{100 * value:.0f}"
        if self.unit in ("cents", "ms", "ms behind", "semitones"):
            return f"{round(value)}"
        return f"{value:.3g}"

    def said(self, value: float) -> str:
        """A value of this measure in words."""
        return f"{self.number(value)} {'of 100' if self.unit == 'share' else self.unit}"

    def document(self, compared: bool) -> dict[str, object]:
        """The measure as plain values."""
        shown = compared and self.record is not None
        return {
            "id": self.id,
            "name": self.name,
            "value": round(self.value, 4),
            "unit": self.unit,
            "count": self.count,
            "chance": self.chance,
            "lift": None if self.lift is None else round(self.lift, 4),
            "record": list(self.record) if shown and self.record else None,
            "middle": self.middle if compared else None,
            "inside_record": self.inside_record if shown else None,
            "detail": self.detail,
        }
