"""Write the degrees of a chord in their canonical spelling.

One meaning has one spelling; the three styles differ in signs only.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from changewright.theory.pitch import Degree

__all__ = ["STYLES", "Style", "tail_of", "typeset"]

Style = Literal["symbolic", "abbreviated", "plain"]
STYLES: tuple[Style, ...] = ("symbolic", "abbreviated", "plain")
"""The three styles of writing chord symbols."""

# Signs by style: minor, major seventh, diminished triad, diminished seventh, augmented.
_SIGNS: dict[Style, tuple[str, str, str, str, str]] = {
    "symbolic": ("−", "Δ", "dim", "°", "+"),
    "abbreviated": ("m", "maj", "dim", "°", "+"),
    "plain": ("mi", "ma", "dim", "dim", "aug"),
}
_TYPOGRAPHIC = str.maketrans("b#", "♭♯")
_ALTERED = frozenset(map(Degree.parse, ("1", "3", "b7", "b9", "#9", "#11", "b13")))


def typeset(text: str, style: Style) -> str:
    """Set the accidentals of a note name or a list of degrees."""
    return text.translate(_TYPOGRAPHIC) if style == "symbolic" else text


@lru_cache(maxsize=4096)
def tail_of(degrees: tuple[Degree, ...], style: Style) -> str:
    """What stands behind the root for these degrees, given in normal form."""
    if frozenset(degrees) == _ALTERED:
        return "7alt"
    return _Writer(degrees, style).tail()


@dataclass(frozen=True, slots=True)
class _Writer:
    degrees: tuple[Degree, ...]
    style: Style

    def tail(self) -> str:
        return self._seventh_chord() if self._sevenths else self._triad()

    # -- what the chord has --------------------------------------------------------------------

    def _has(self, number: int, alter: int = 0) -> bool:
        return Degree(number, alter) in self.degrees

    def _alters(self, number: int) -> list[int]:
        return [d.alter for d in self.degrees if d.number == number]

    @property
    def _sevenths(self) -> list[int]:
        return self._alters(7)

    @property
    def _minor(self) -> bool:
        return self._has(3, -1)

    @property
    def _diminished(self) -> bool:
        return self._minor and self._alters(5) == [-1]

    @property
    def _sus(self) -> str:
        found = [d for d in self.degrees if d.number in (2, 4)]
        return "sus" + "".join(map(str, found)) if found else ""

    @property
    def _has_third(self) -> bool:
        return bool(self._alters(3) or self._sus)

    # -- triads and sixths -----------------------------------------------------------------------

    def _triad(self) -> str:
        minor, _, dim, _, plus = _SIGNS[self.style]
        sixth = self._has(6)
        said: list[Degree] = [Degree(6)] if sixth else []
        if self._diminished and not sixth:
            return dim + self._rest([Degree(5, -1)], plain_fifth=False)
        if self._alters(3) == [0] and self._alters(5) == [1] and not sixth:
            return plus + self._rest([Degree(5, 1)], plain_fifth=False)
        if not self._has_third and not sixth and self._has(5):
            return "5" + self._rest([], says_third=False)
        size = "6" if sixth else ""
        if sixth and self._has(9):
            size, said = "6/9", [*said, Degree(9)]
        return (minor if self._minor else "") + size + self._sus + self._rest(said)

    # -- seventh chords --------------------------------------------------------------------------

    def _seventh_chord(self) -> str:
        minor, major, _, dim, _ = _SIGNS[self.style]
        if self._diminished and -2 in self._sevenths:
            extra = [major + "7"] if 0 in self._sevenths else []
            return f"{dim}7" + self._rest([Degree(5, -1)], extra, plain_fifth=False)
        if self._diminished and self._sevenths == [0]:
            return self._marked(dim, [Degree(5, -1)], fifth_said=True)
        if self._minor and self._sevenths == [0]:
            return self._marked(minor, [])
        if self._diminished and self.style == "symbolic" and self._sevenths == [-1]:
            size, said = self._size()
            return f"ø{size}" + self._rest([Degree(5, -1), *said], plain_fifth=False)
        size, said = self._size()
        mark = minor if self._minor else major if self._sevenths[-1:] == [0] else ""
        omits_third = not (size == 11 and mark == "" and not self._has_third)
        return f"{mark}{size}{self._sus}" + self._rest(said, says_third=omits_third)

    def _marked(self, triad: str, said: list[Degree], fifth_said: bool = False) -> str:
        """A minor or diminished triad with a major seventh: `m(maj7)`, `−Δ7`."""
        major = _SIGNS[self.style][1]
        size, tops = self._size()
        if self.style == "symbolic":
            return f"{triad}{major}{size}" + self._rest([*said, *tops], plain_fifth=not fifth_said)
        return triad + self._rest([*said, *tops], [f"{major}{size}"], plain_fifth=not fifth_said)

    def _size(self) -> tuple[int, list[Degree]]:
        """The largest stack of natural tensions, and what it says."""
        ninth, eleventh, thirteenth = bool(self._alters(9)), self._has(11), self._has(13)
        half = self._diminished and self._sevenths == [-1]
        stack = [Degree(9), Degree(11), Degree(13)]
        if self._minor:
            if ninth and thirteenth and (eleventh or self._has(11, 1)):
                return 13, stack
            if eleventh and (not self._has(9) if half else ninth):
                return 11, stack[1:2] if half else stack[:2]
        elif ninth and thirteenth:
            return 13, [stack[0], stack[2]]
        elif eleventh and ninth and self._stacks_eleven():
            return 11, stack[:2]
        return (9, stack[:1]) if self._has(9) else (7, [])

    def _stacks_eleven(self) -> bool:
        """A major eleventh has its third, a dominant eleventh has none."""
        if self._sus:
            return False
        return self._has(3) if self._sevenths == [0] else not self._has_third

    # -- the list in parentheses -------------------------------------------------------------------

    def _rest(
        self,
        said: Sequence[Degree],
        first: Sequence[str] = (),
        *,
        plain_fifth: bool = True,
        says_third: bool = True,
    ) -> str:
        """What the head did not say: ``said`` lists what it did beside root, third and seventh."""
        items = [*first, *(self._fifth_items() if plain_fifth else [])]
        items += self._tension_items(said)
        if says_third and not self._has_third:
            items.append("no3")
        if plain_fifth and not self._alters(5):
            items.append("no5")
        return typeset(f"({','.join(items)})", self.style) if items else ""

    def _fifth_items(self) -> list[str]:
        return [str(Degree(5, a)) for a in self._alters(5) if a]

    def _tension_items(self, said: Sequence[Degree]) -> list[str]:
        """What is simply there or replaces, in ascending order, then what is added beside it.

        PITFALL: `add` holds on to the end of a list, so what is added stands last.
        """
        left = [d for d in self.degrees if d.number in (6, 9, 11, 13) and d not in said]
        added = [d for d in left if self._is_added(d, said)]
        first = "add" if added else ""
        return [str(d) for d in left if d not in added] + [
            f"{first if d == added[0] else ''}{d}" for d in added
        ]

    def _is_added(self, degree: Degree, said: Sequence[Degree]) -> bool:
        """Tell whether the word `add` is needed.

        It is beside a natural tension that the stack has, for a stack is altered by replacing;
        and on triads, where a player would take a bare number for a seventh chord.
        """
        natural = Degree(degree.number)
        if degree != natural and natural in said and natural in self.degrees:
            return True
        if self._sevenths or degree.number == 6:
            return False
        altered_sixth_chord = self._has(6) and degree.alter != 0 and not self._sus
        return not altered_sixth_chord
