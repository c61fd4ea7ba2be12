"""The reading as a value."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from changewright.music.bar import Bar, Change, Quarters
from changewright.theory.key import Key
from changewright.theory.pitch import Degree
from changewright.theory.scale import Scale

__all__ = [
    "Area",
    "Cadence",
    "CadenceKind",
    "Colour",
    "Function",
    "Other",
    "OtherHome",
    "Passage",
    "PassageKind",
    "ReadChange",
    "Reading",
    "ScaleChoice",
]

Colour = Literal["major", "minor", "blues"]
"""What home sounds like; a blues is neither major nor minor, its Key is written as major."""


class Function(StrEnum):
    """What a chord does. Source: the categories of Granroth-Wilding and Steedman's annotated
    corpus, folded to five."""

    TONIC = "T"
    DOMINANT = "D"
    SUBDOMINANT = "S"
    COLOUR = "C"
    PASSING = "P"


@dataclass(frozen=True, slots=True)
class ScaleChoice:
    """A scale that fits, with its reason in a teacher's words. ``care`` lists degrees to handle
    with care; ``rule`` is the row of the chord-scale table, such as ``D2``, or ``pin``."""

    scale: Scale
    because: str
    care: tuple[Degree, ...]
    rule: str


@dataclass(frozen=True, slots=True)
class Other:
    """Another reading of a change: the tonic it would be played to, its function, and by how
    much the best reading of the whole chorus through it costs more (1 is "possible, but say
    why"; below 0.5 a teacher might well hear it so)."""

    goal: Key
    function: Function
    costs_more: float


@dataclass(frozen=True, slots=True)
class OtherHome:
    """Another key for the whole chorus, and by how much any reading in it costs more at least."""

    key: Key
    colour: Colour
    costs_more: float


@dataclass(frozen=True, slots=True)
class ReadChange:
    """One change, read: key, numeral, function, and scales with the first choice first.

    ``bar`` is the bar's number as played, ``beat`` its beat as people say it. ``key`` is the key
    of the passage, from which the numeral counts. ``goal`` is the local tonic: the tonic that
    the chord is, colours, or is on its way to, however briefly; a five of four has the key of
    the tune and the goal of the four. ``doing`` says in words what the chord does ("five of
    two", "home in the blues"), ``relation`` says it in signs where a numeral isn't enough
    ("V7/ii", "subV7/V"). ``scales`` is empty for N.C. ``others`` are the runner-up readings,
    the closest first. ``pinned`` marks a change whose key or scale the chart's author fixed.
    """

    change: Change
    bar: int
    beat: str
    key: Key
    numeral: str
    function: Function
    doing: str
    scales: tuple[ScaleChoice, ...]
    goal: Key | None = None
    relation: str = ""
    others: tuple[Other, ...] = ()
    pinned: bool = False

    @property
    def local_tonic(self) -> Key:
        """The goal, or the key where no goal was worked out."""
        return self.goal or self.key


@dataclass(frozen=True, slots=True)
class Area:
    """A stretch [start, end) in one key, in quarters from the start of the chorus, and the bars
    that it touches, first and last."""

    key: Key
    start: Quarters
    end: Quarters
    first_bar: int
    last_bar: int


class CadenceKind(StrEnum):
    """How a phrase comes to rest, or doesn't."""

    TWO_FIVE_ONE = "ii-V-I"
    MINOR_TWO_FIVE_ONE = "ii-V-i"
    FIVE_ONE = "V-I"
    MINOR_FIVE_ONE = "V-i"
    TRITONE = "subV-I"
    BACKDOOR = "backdoor"
    PLAGAL = "plagal"
    DIMINISHED = "vii°-I"
    DECEPTIVE = "deceptive"
    INTERRUPTED = "interrupted ii-V"


@dataclass(frozen=True, slots=True)
class Cadence:
    """A cadence to ``key``: the changes from ``first`` up to the arrival ``last`` (indices into
    the reading's changes; ``last`` is smaller where the arrival is the next chorus's start)."""

    kind: CadenceKind
    key: Key
    first: int
    last: int
    first_bar: int
    last_bar: int


class PassageKind(StrEnum):
    """Longer shapes that a player knows by name."""

    TURNAROUND = "turnaround"
    BACK_CYCLING = "back-cycling"
    TWO_FIVE_CHAIN = "chain of ii-Vs"
    MAJOR_THIRDS = "major-third cycle"
    MINOR_THIRDS = "minor-third cycle"
    LINE_CLICHE = "line cliche"
    PEDAL = "pedal point"
    MODAL = "modal section"


@dataclass(frozen=True, slots=True)
class Passage:
    """A shape with a name, from one change to another (indices), and the bars it touches."""

    kind: PassageKind
    first: int
    last: int
    first_bar: int
    last_bar: int
    words: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A chorus, read: the bars as played with a reading for each of their changes.

    ``cost`` is the best path's cost, comparable only within one chorus. ``other_homes`` are the
    runner-up keys, the closest first.
    """

    title: str
    key: Key
    bars: tuple[Bar, ...]
    changes: tuple[ReadChange, ...]
    colour: Colour = "major"
    areas: tuple[Area, ...] = ()
    cadences: tuple[Cadence, ...] = ()
    passages: tuple[Passage, ...] = ()
    other_homes: tuple[OtherHome, ...] = ()
    cost: float = 0.0
