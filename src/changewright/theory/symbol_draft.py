"""A chord symbol half read: what it has said so far, and the degrees that this means."""

from dataclasses import dataclass, field

from changewright.theory.chord import normal_form
from changewright.theory.pitch import Degree

__all__ = ["STACKING", "Draft"]

_ALTERED = tuple(map(Degree.parse, ("1", "3", "b7", "b9", "#9", "#11", "b13")))
STACKING = (7, 9, 11, 13)
"""The numbers that stack thirds up to themselves."""


@dataclass(slots=True)
class Draft:
    """What a symbol has said so far.

    ``third`` is empty or ``minor``, ``diminished``, ``half-diminished``, ``augmented``; ``major``
    is the major mark as written; ``extension`` the large number; ``altered`` degrees replace
    natural ones, ``added`` ones do not.
    """

    third: str = ""
    major: str = ""
    major_seventh: bool = False
    extension: int | None = None
    power: bool = False
    alt: bool = False
    sus: list[Degree] = field(default_factory=list)
    altered: list[Degree] = field(default_factory=list)
    added: list[Degree] = field(default_factory=list)
    omitted: set[int] = field(default_factory=set)

    @property
    def minor_third(self) -> bool:
        """Tell whether the third is minor."""
        return self.third in ("minor", "diminished", "half-diminished")

    def degrees(self) -> tuple[Degree, ...]:
        """The chord's degrees in normal form."""
        if self.alt:
            return normal_form((*_ALTERED, *self.added))
        stack = [Degree(1), *self._thirds(), *self._fifths(), *self._upper()]
        replaced = {d.number for d in self.altered}
        kept = [d for d in stack if d.number not in replaced or d.number < 9 or d.alter]
        kept = [d for d in (*kept, *self.altered) if d.number not in self.omitted]
        return normal_form((*kept, *self.added))

    def _thirds(self) -> list[Degree]:
        if self.sus or self.power:
            return self.sus
        if self.extension == 11 and not self.minor_third and not self.major_seventh:
            return []  # players leave the third out of an eleventh chord
        return [Degree(3, -1 if self.minor_third else 0)]

    def _fifths(self) -> list[Degree]:
        if any(d.number == 5 for d in self.altered):
            return []
        if self.third in ("diminished", "half-diminished"):
            return [Degree(5, -1)]
        return [Degree(5, 1 if self.third == "augmented" else 0)]

    def _upper(self) -> list[Degree]:
        size = self.extension or (7 if self._has_seventh_anyway() else 0)
        if size not in STACKING:
            return [Degree(6)] if size == 6 else []
        tops = [n for n in self._stack() if n <= size]
        return [self._seventh(), *(Degree(n) for n in tops)]

    def _has_seventh_anyway(self) -> bool:
        """A half-diminished chord and a sus chord with a b9 have the seventh, written or not."""
        phrygian = bool(self.sus) and Degree(9, -1) in self.altered
        return phrygian or self.third == "half-diminished"

    def _seventh(self) -> Degree:
        if self.major_seventh:
            return Degree(7)
        return Degree(7, -2 if self.third == "diminished" else -1)

    def _stack(self) -> tuple[int, ...]:
        """The natural tensions that a large number brings along, as players play them."""
        if self.extension == 11 and self._is_half_diminished():
            return (11,)
        if self.extension == 13 and (self.sus or not self.minor_third):
            return (9, 13)
        return (9, 11, 13)

    def _is_half_diminished(self) -> bool:
        flat_fifth = [d.alter for d in self.altered if d.number == 5] == [-1]
        half = self.third == "half-diminished" or (self.third == "minor" and flat_fifth)
        return half and not self.major_seventh
