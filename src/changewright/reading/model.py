"""The reading as a value."""

from dataclasses import dataclass
from enum import StrEnum

from changewright.music.bar import Bar, Change
from changewright.theory.key import Key
from changewright.theory.pitch import Degree
from changewright.theory.scale import Scale

__all__ = ["Function", "ReadChange", "Reading", "ScaleChoice"]


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
    with care; ``rule`` is the row of the chord-scale table, such as ``D2``."""

    scale: Scale
    because: str
    care: tuple[Degree, ...]
    rule: str


@dataclass(frozen=True, slots=True)
class ReadChange:
    """One change, read: local key, numeral, function, and scales with the first choice first.

    ``bar`` is the bar's number as played, ``beat`` its beat as people say it. ``doing`` says in
    words what the chord does ("five of two", "tonic of the blues"). ``scales`` is empty for N.C.
    """

    change: Change
    bar: int
    beat: str
    key: Key
    numeral: str
    function: Function
    doing: str
    scales: tuple[ScaleChoice, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """A chorus, read: the bars as played with a reading for each of their changes."""

    title: str
    key: Key
    bars: tuple[Bar, ...]
    changes: tuple[ReadChange, ...]
