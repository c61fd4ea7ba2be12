"""Notes and lines, with the few verbs they are closed under."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from changewright.music.bar import Quarters
from changewright.theory.pitch import Degree, Interval, Pitch

__all__ = ["SILENCE", "Line", "Note", "Role"]


class Role(StrEnum):
    """What a note is there for; said in words, never by colour."""

    CHORD_TONE = "chord tone"
    GUIDE_TONE = "guide tone"
    TARGET = "target"
    SCALE_TONE = "scale tone"
    APPROACH = "approach note"
    ENCLOSURE = "enclosure"
    PHRASE = "phrase"
    FREE = "free"


@dataclass(frozen=True, slots=True)
class Note:
    """One note at concert pitch.

    ``onset`` and ``duration`` are in quarters from the start of the line; ``degree`` is the
    note's degree over the chord it belongs to (for an anticipation, the chord to come), or
    None where the note is outside. ``blank`` marks a note that the page leaves for the student to
    fill in; it still has the model answer's pitch.
    """

    onset: Quarters
    duration: Quarters
    pitch: Pitch
    role: Role = Role.FREE
    degree: Degree | None = None
    blank: bool = False

    def __post_init__(self) -> None:
        if self.duration <= 0 or self.onset < 0:
            raise ValueError("a note starts at or after 0 and lasts")

    @property
    def end(self) -> Quarters:
        """Where the note stops."""
        return self.onset + self.duration


@dataclass(frozen=True, slots=True)
class Line:
    """One voice: notes in order, none overlapping, in a stretch of ``length`` quarters.

    Where no note sounds there is rest.
    """

    notes: tuple[Note, ...]
    length: Quarters

    def __post_init__(self) -> None:
        end = Fraction(0)
        for note in self.notes:
            if note.onset < end:
                raise ValueError(f"notes overlap at {note.onset}")
            end = note.end
        if end > self.length:
            raise ValueError(f"the line ends at {self.length}, its last note at {end}")

    def then(self, other: "Line") -> "Line":
        """This line, and after it the other."""
        return Line((*self.notes, *other.delay(self.length).notes), self.length + other.length)

    def delay(self, by: Quarters) -> "Line":
        """The line, ``by`` quarters later."""
        moved = (replace(n, onset=n.onset + by) for n in self.notes)
        return Line(tuple(moved), self.length + by)

    def cut(self, start: Quarters, end: Quarters) -> "Line":
        """The notes that begin in [start, end), counted from ``start``, clipped at ``end``."""
        kept = (n for n in self.notes if start <= n.onset < end)
        return Line(
            tuple(
                replace(n, onset=n.onset - start, duration=min(n.duration, end - n.onset))
                for n in kept
            ),
            end - start,
        )

    def transpose(self, interval: Interval) -> "Line":
        """Move every pitch by the same interval."""
        return self.with_(replace(n, pitch=n.pitch + interval) for n in self.notes)

    def with_(self, notes: Iterable[Note]) -> "Line":
        """The same stretch with other notes."""
        return Line(tuple(notes), self.length)


SILENCE = Line((), Fraction(0))
"""The empty line: ``SILENCE.then(x) == x == x.then(SILENCE)``."""
