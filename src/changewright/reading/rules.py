"""Which row of the chord-scale table a chord falls under: by its symbol, then by what it does."""

from dataclasses import dataclass

from changewright.reading.grammar import Role
from changewright.reading.heard import Event, Kind
from changewright.reading.keys import Home
from changewright.theory.chord import Chord

__all__ = ["Spot", "rule_for"]

_DOMINANTS = (Kind.DOMINANT, Kind.AUGMENTED, Kind.SUSPENDED)
_MINORS = (Kind.MINOR, Kind.MINOR7, Kind.MINOR6)


@dataclass(frozen=True, slots=True)
class Spot:
    """An event with its role, its local tonic (a pitch class), and its neighbours in the chorus."""

    event: Event
    chord: Chord
    role: Role
    tonic: int
    home: Home
    before: Event
    after: Event

    @property
    def degree(self) -> int:
        """Semitones of the root above the local tonic."""
        return (self.event.root - self.tonic) % 12

    @property
    def step(self) -> int:
        """Semitones that the next root lies above this one."""
        return (self.after.root - self.event.root) % 12

    @property
    def to_minor(self) -> bool:
        """Whether the next chord has a minor third."""
        return self.after.kind in (*_MINORS, Kind.HALF_DIMINISHED)


def rule_for(spot: Spot) -> str:
    """The id of the row; empty for N.C."""
    kind = spot.event.kind
    if kind is Kind.SILENT:
        return ""
    if kind in _DOMINANTS:
        return _written_dominant(spot) or _plain_dominant(spot)
    if kind is Kind.DIMINISHED:
        return _diminished(spot)
    if kind is Kind.HALF_DIMINISHED:
        return _half_diminished(spot)
    return _minor(spot) if kind in _MINORS else _major(spot)


def _written_dominant(spot: Spot) -> str:
    chord = spot.chord
    flat_nine = chord.has(9, -1)
    if spot.event.kind is Kind.SUSPENDED:
        return "D14" if flat_nine else "D13"
    if flat_nine and chord.has(9, 1):
        return "D15"
    if flat_nine and chord.has(13):
        return "D20"
    if flat_nine:
        return "D16" if spot.to_minor or chord.has(13, -1) else "D24"
    if chord.has(9, 1):
        return "D17"
    if chord.has(11, 1) or chord.has(5, -1):
        return "D18"
    return "D19" if chord.has(5, 1) else ""


def _plain_dominant(spot: Spot) -> str:
    blues = spot.home.colour == "blues"
    from_home = (spot.event.root - spot.home.tonic) % 12
    if blues and spot.role is not Role.DOMINANT and from_home in (0, 5):
        return "D10" if from_home == 0 else "D11"
    if spot.step == 5:
        return _falling_fifth(spot, from_home, blues)
    if spot.step == 11:
        return "D22" if from_home == 8 else "D8"
    if spot.step == 2 and spot.degree == 10:
        return "D9"
    if spot.step == 0 and spot.after.kind in _MINORS:
        return "D21"
    if blues and from_home == 7:
        return "D12"
    return "D23"


def _falling_fifth(spot: Spot, from_home: int, blues: bool) -> str:
    if from_home == 7 and spot.after.root == spot.home.tonic:
        if blues:
            return "D12"
        return "D2" if spot.to_minor else "D1"
    if spot.to_minor:
        return {9: "D4", 11: "D5", 4: "D7"}.get(from_home, "D2")
    return {0: "D6", 2: "D3"}.get(from_home, "D1")


def _diminished(spot: Spot) -> str:
    from_home = (spot.event.root - spot.home.tonic) % 12
    if spot.step == 1:
        return "X2" if from_home == 3 else "X1"
    if from_home == 6:
        return "X3"
    return "X4" if spot.step == 11 else "X5"


def _half_diminished(spot: Spot) -> str:
    from_home = (spot.event.root - spot.home.tonic) % 12
    if from_home == 6 and spot.step != 5:
        return "M7"
    if from_home == 11 and spot.step != 5:
        return "T6"
    return "M7" if from_home == 6 else "T7"


def _minor(spot: Spot) -> str:
    chord, from_home = spot.chord, (spot.event.root - spot.home.tonic) % 12
    if chord.has(6, -1):
        return "M11"
    if spot.role is Role.TONIC and spot.degree == 0:
        if chord.has(11):
            return "M10"
        return "T9" if spot.event.kind is Kind.MINOR7 else "T8"
    if from_home == 5:
        return "M2" if spot.event.kind is Kind.MINOR6 else "M1"
    if spot.step == 5 and spot.after.kind in _DOMINANTS:
        return "M8" if from_home == 7 else "T3"
    return {4: "T4", 9: "T5", 7: "M8"}.get(from_home, "T3")


def _major(spot: Spot) -> str:
    chord, from_home = spot.chord, (spot.event.root - spot.home.tonic) % 12
    if chord.has(5, 1):
        return "T11"
    if chord.has(11, 1) or chord.has(5, -1):
        return "T10"
    if spot.role is Role.TONIC and spot.degree == 0 and from_home != 5:
        return "T1"
    return {5: "T2", 8: "M3", 3: "M4", 10: "M5", 1: "M6"}.get(from_home, "T1")
