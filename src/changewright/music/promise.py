"""What a sheet promises, bar by bar: written by the composer, proved by tests, printed on the
page, and asked of a take by the ear.

Times are in quarters from the start of the chorus. Which chord a degree belongs to is read from
the sheet's changes at that time.
"""

from dataclasses import dataclass

from changewright.music.bar import Quarters
from changewright.theory.pitch import Degree

__all__ = ["Holds", "Lands", "Promise", "Rests", "Stays", "Steps"]


@dataclass(frozen=True, slots=True)
class Lands:
    """A note starts at ``at`` and is one of ``degrees`` of the chord there."""

    at: Quarters
    degrees: tuple[Degree, ...]

    @property
    def start(self) -> Quarters:
        """Where the promise is due."""
        return self.at


@dataclass(frozen=True, slots=True)
class Steps:
    """The note that starts at ``at`` is entered from the note before by at most ``most``
    semitones (0 is a repeated note)."""

    at: Quarters
    most: int = 2

    @property
    def start(self) -> Quarters:
        """Where the promise is due."""
        return self.at


@dataclass(frozen=True, slots=True)
class Stays:
    """Every note that starts in [start, end) is one of ``degrees`` of its chord."""

    start: Quarters
    end: Quarters
    degrees: tuple[Degree, ...]


@dataclass(frozen=True, slots=True)
class Holds:
    """The note that starts at ``at`` sounds for at least ``least`` quarters."""

    at: Quarters
    least: Quarters

    @property
    def start(self) -> Quarters:
        """Where the promise is due."""
        return self.at


@dataclass(frozen=True, slots=True)
class Rests:
    """Nothing sounds in [start, end)."""

    start: Quarters
    end: Quarters


Promise = Lands | Steps | Stays | Holds | Rests
