"""What a sheet promises, bar by bar: written by the composer, proved by tests, printed on the
page, and asked of a take by the ear.

Times are in quarters from the start of the chorus. Which chord a degree belongs to is read from
the sheet's changes at that time.
"""

from dataclasses import dataclass

from changewright.music.bar import Quarters
from changewright.theory.pitch import Degree, Pitch

__all__ = [
    "Approached",
    "Avoids",
    "Climbs",
    "Echoes",
    "Holds",
    "Keeps",
    "Lands",
    "Leaps",
    "Promise",
    "Quotes",
    "Rests",
    "Stays",
    "Steps",
    "Within",
]


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


@dataclass(frozen=True, slots=True)
class Within:
    """No note that starts in [start, end) lies below ``low`` or above ``high``."""

    start: Quarters
    end: Quarters
    low: Pitch
    high: Pitch


@dataclass(frozen=True, slots=True)
class Leaps:
    """Two notes in a row that both start in [start, end) lie at most ``most`` semitones apart."""

    start: Quarters
    end: Quarters
    most: int


@dataclass(frozen=True, slots=True)
class Avoids:
    """No note that starts in [start, end) sounds like one of ``pitches``."""

    start: Quarters
    end: Quarters
    pitches: tuple[Pitch, ...]


@dataclass(frozen=True, slots=True)
class Climbs:
    """The notes that start in [start, end) rise one after another, or fall where not ``up``."""

    start: Quarters
    end: Quarters
    up: bool = True


@dataclass(frozen=True, slots=True)
class Keeps:
    """Notes start in [start, end) exactly at ``onsets`` and nowhere else."""

    start: Quarters
    end: Quarters
    onsets: tuple[Quarters, ...]


@dataclass(frozen=True, slots=True)
class Approached:
    """The notes just before the one at ``at`` lie ``offsets`` semitones from it, in order.

    ``(-1,)`` is a chromatic approach from below, ``(-2, -1)`` a double one, ``(1, -1)`` an
    enclosure from above and below.
    """

    at: Quarters
    offsets: tuple[int, ...]

    @property
    def start(self) -> Quarters:
        """Where the promise is due."""
        return self.at


@dataclass(frozen=True, slots=True)
class Quotes:
    """A phrase stands word for word from ``at``: its notes start ``onsets`` quarters later, with
    no other between them, and lie ``shape`` semitones from the first."""

    at: Quarters
    onsets: tuple[Quarters, ...]
    shape: tuple[int, ...]

    @property
    def start(self) -> Quarters:
        """Where the promise is due."""
        return self.at


@dataclass(frozen=True, slots=True)
class Echoes:
    """A motif comes back: the ``count`` notes from ``at`` have the rhythm of those from ``of``, and
    rise and fall with them, or against them throughout; the last may go either way."""

    at: Quarters
    of: Quarters
    count: int

    @property
    def start(self) -> Quarters:
        """Where the promise is due."""
        return self.at


Promise = (
    Lands
    | Steps
    | Stays
    | Holds
    | Rests
    | Within
    | Leaps
    | Avoids
    | Climbs
    | Keeps
    | Approached
    | Quotes
    | Echoes
)
