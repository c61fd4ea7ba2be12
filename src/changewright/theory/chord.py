"""The chord as a value: a root, its degrees, and what sounds below it.

Reading and writing symbols lives in :mod:`changewright.theory.symbols`.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from changewright.theory.pitch import Degree, Interval, Name

__all__ = ["NO_CHORD", "Chord", "normal_form"]

_THIRDS = ((3, 0), (3, -1), (4, 0), (2, 0))
_SEVENTHS = ((7, 0), (7, -1), (7, -2), (6, 0))


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord as written: root, degrees above it, and an optional bass or upper triad.

    ``degrees`` are in ascending order of their number, the root first. ``root`` is None
    for N.C. only, and then ``degrees`` is empty. ``bass`` is set only where the symbol names
    one. ``upper`` is the upper chord of a polychord. Equality is equality of meaning.
    """

    root: Name | None
    degrees: tuple[Degree, ...]
    bass: Name | None = None
    upper: "Chord | None" = None

    def __post_init__(self) -> None:
        if (self.root is None) != (not self.degrees):
            raise ValueError("a chord has a root and degrees, N.C. has neither")
        if tuple(sorted(self.degrees, key=_order)) != self.degrees:
            raise ValueError("degrees must be in ascending order")

    @property
    def is_silent(self) -> bool:
        """True for N.C."""
        return self.root is None

    @property
    def tones(self) -> tuple[Name, ...]:
        """The chord tones spelled from the root, in the order of ``degrees``."""
        return tuple(self.tone(d) for d in self.degrees)

    @property
    def pcs(self) -> frozenset[int]:
        """All sounding pitch classes, the bass and the upper triad included."""
        own = {t.pc for t in self.tones}
        if self.bass is not None:
            own.add(self.bass.pc)
        return frozenset(own | self.upper.pcs) if self.upper else frozenset(own)

    def tone(self, degree: Degree) -> Name:
        """Spell one degree above the root."""
        if self.root is None:
            raise ValueError("N.C. has no tones")
        return self.root + degree.interval

    def has(self, number: int, alter: int = 0) -> bool:
        """Tell whether the chord holds this degree; 9 and 2 differ here, as in the symbol."""
        return any(d.number == number and d.alter == alter for d in self.degrees)

    @property
    def third(self) -> Degree | None:
        """What stands as third: the third, or the 4th (2nd) of a sus chord."""
        return self._first(_THIRDS)

    @property
    def fifth(self) -> Degree | None:
        """The fifth, natural or altered, if the chord has one."""
        return next((d for d in self.degrees if d.number == 5), None)

    @property
    def seventh(self) -> Degree | None:
        """What stands as seventh: the seventh, or the 6th of a sixth chord."""
        return self._first(_SEVENTHS)

    @property
    def guide_tones(self) -> tuple[Degree, ...]:
        """The third and the seventh, or what stands for them (domain reference 2.5)."""
        return tuple(d for d in (self.third, self.seventh) if d is not None)

    @property
    def four(self) -> tuple[Degree, ...]:
        """The plain chord tones for arpeggios: 1 3 5 7, or 1 3 5 6, or what the chord has."""
        picks = (Degree(1), self.third, self.fifth, self.seventh)
        return tuple(d for d in picks if d is not None and (d.number == 1 or d in self.degrees))

    @property
    def is_dominant(self) -> bool:
        """A major third (or a sus) with a minor seventh."""
        return self.has(7, -1) and not self.has(3, -1)

    @property
    def is_minor(self) -> bool:
        """A minor third and no diminished fifth."""
        return self.has(3, -1) and not self.has(5, -1)

    @property
    def is_half_diminished(self) -> bool:
        """A minor third, diminished fifth and minor seventh."""
        return self.has(3, -1) and self.has(5, -1) and self.has(7, -1)

    @property
    def is_diminished(self) -> bool:
        """A minor third and a diminished fifth, with a diminished seventh or none."""
        return self.has(3, -1) and self.has(5, -1) and not self.has(7, -1)

    @property
    def is_major(self) -> bool:
        """A major third without a minor seventh."""
        return self.has(3) and not self.has(7, -1)

    def transpose(self, interval: Interval) -> "Chord":
        """Move root, bass and upper triad; degrees stay."""
        return Chord(
            None if self.root is None else self.root + interval,
            self.degrees,
            None if self.bass is None else self.bass + interval,
            None if self.upper is None else self.upper.transpose(interval),
        )

    def _first(self, choices: tuple[tuple[int, int], ...]) -> Degree | None:
        wanted = (Degree(number, alter) for number, alter in choices)
        return next((d for d in wanted if d in self.degrees), None)


def _order(degree: Degree) -> tuple[int, int]:
    return degree.number, degree.alter


def normal_form(degrees: Iterable[Degree]) -> tuple[Degree, ...]:
    """One way to name each sound: degrees in ascending order, under the numbers players use.

    A 2 or 4 beside a third is a 9 or 11, a 6 beside a seventh is a 13 and a 13 without one a 6; a
    fifth altered beside a plain one is #11 or b13, and a raised one in a diminished chord b13; a
    minor third beside a major one is #9. A diminished seventh needs the diminished triad;
    elsewhere it is a 6. Idempotent.

    >>> " ".join(map(str, normal_form(map(Degree.parse, "1 2 3 5 13".split()))))
    '1 3 5 6 9'
    """
    found = {_folded(d) for d in degrees} - {Degree(8), Degree(15)}
    found |= {Degree(1)}
    for rename in (_name_thirds, _name_sevenths, _name_fifths, _name_sixths):
        found = rename(found)
    return tuple(sorted(found, key=_order))


def _folded(degree: Degree) -> Degree:
    number = {10: 3, 12: 5, 14: 7}.get(degree.number, degree.number)
    return Degree(number, degree.alter)


def _renamed(found: set[Degree], old: int, new: int) -> set[Degree]:
    return {Degree(new, d.alter) if d.number == old else d for d in found}


def _name_thirds(found: set[Degree]) -> set[Degree]:
    if Degree(3) in found and Degree(3, -1) in found:
        found = found - {Degree(3, -1)} | {Degree(9, 1)}
    if any(d.number == 3 for d in found):
        return _renamed(_renamed(found, 2, 9), 4, 11)
    doubled = {Degree(n + 7) for n in (2, 4) if Degree(n) in found}
    return found - doubled


def _name_sevenths(found: set[Degree]) -> set[Degree]:
    diminished = Degree(3, -1) in found and Degree(5, -1) in found
    if Degree(7, -2) in found and not diminished:
        return found - {Degree(7, -2)} | {Degree(6)}
    return found


def _name_fifths(found: set[Degree]) -> set[Degree]:
    renamed: dict[Degree, Degree] = {}
    if Degree(5) in found:
        renamed = {Degree(5, -1): Degree(11, 1), Degree(5, 1): Degree(13, -1)}
    elif {Degree(3, -1), Degree(5, -1)} <= found:
        renamed = {Degree(5, 1): Degree(13, -1)}
    return {renamed.get(d, d) for d in found}


def _name_sixths(found: set[Degree]) -> set[Degree]:
    if any(d.number == 7 for d in found):
        return _renamed(found, 6, 13)
    return _renamed(found, 13, 6)


NO_CHORD = Chord(None, ())
"""N.C.: no chord; the soloist is judged on rhythm only."""
