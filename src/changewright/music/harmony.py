"""A chord as MusicXML says it: a kind, and what is added to, altered in or left out of it.

Source: W3C MusicXML 4.0, kind-value and degree.
"""

from dataclasses import dataclass
from functools import cache
from typing import Literal

from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree

__all__ = ["Change", "Kind", "kind_of"]

_KINDS = {
    name: tuple(map(Degree.parse, degrees.split()))
    for name, degrees in (
        ("major", "1 3 5"),
        ("minor", "1 b3 5"),
        ("augmented", "1 3 #5"),
        ("diminished", "1 b3 b5"),
        ("dominant", "1 3 5 b7"),
        ("major-seventh", "1 3 5 7"),
        ("minor-seventh", "1 b3 5 b7"),
        ("diminished-seventh", "1 b3 b5 bb7"),
        ("augmented-seventh", "1 3 #5 b7"),
        ("half-diminished", "1 b3 b5 b7"),
        ("major-minor", "1 b3 5 7"),
        ("major-sixth", "1 3 5 6"),
        ("minor-sixth", "1 b3 5 6"),
        ("dominant-ninth", "1 3 5 b7 9"),
        ("major-ninth", "1 3 5 7 9"),
        ("minor-ninth", "1 b3 5 b7 9"),
        ("dominant-11th", "1 3 5 b7 9 11"),
        ("major-11th", "1 3 5 7 9 11"),
        ("minor-11th", "1 b3 5 b7 9 11"),
        ("dominant-13th", "1 3 5 b7 9 11 13"),
        ("major-13th", "1 3 5 7 9 11 13"),
        ("minor-13th", "1 b3 5 b7 9 11 13"),
        ("suspended-second", "1 2 5"),
        ("suspended-fourth", "1 4 5"),
        ("power", "1 5"),
    )
}


@dataclass(frozen=True, slots=True)
class Change:
    """One degree that the kind alone doesn't tell."""

    how: Literal["add", "alter", "subtract"]
    number: int
    alter: int


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind's name and the changes to it."""

    name: str
    changes: tuple[Change, ...]


@cache
def kind_of(chord: Chord) -> Kind:
    """The kind with the fewest changes; of equals, the plainest. N.C. is ``none``."""
    if chord.root is None:
        return Kind("none", ())
    wanted = chord.degrees
    options = (Kind(name, _changes(wanted, base)) for name, base in _KINDS.items())
    return min(options, key=lambda kind: len(kind.changes))


def _changes(wanted: tuple[Degree, ...], base: tuple[Degree, ...]) -> tuple[Change, ...]:
    """What turns the degrees of a kind into the wanted ones.

    PITFALL: an altered or subtracted degree counts from the kind's own degree, an added one
    from the major and perfect intervals, except that a seventh counts from the minor seventh.
    """
    missing = [d for d in base if d not in wanted]
    extra = [d for d in wanted if d not in base]
    found: list[Change] = []
    for degree in extra:
        stand_in = next((m for m in missing if m.number == degree.number), None)
        if stand_in is not None:
            missing.remove(stand_in)
            found.append(Change("alter", degree.number, degree.alter - stand_in.alter))
        else:
            found.append(Change("add", degree.number, degree.alter + (degree.number == 7)))
    found += [Change("subtract", m.number, 0) for m in missing]
    return tuple(found)
