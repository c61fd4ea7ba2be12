"""Which key the whole chorus may be in, and what that makes likely."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from changewright.reading.grammar import Role, states_of
from changewright.reading.heard import Event, Kind

__all__ = ["Home", "costs_under", "homes"]

Colour = Literal["major", "minor", "blues"]

# How far a local tonic lies from home, in cost a chord; keys are semitones above the home tonic.
_AWAY = {0: 0.0, 5: 0.25, 7: 0.35, 9: 0.35, 3: 0.35, 8: 0.4, 2: 0.45, 4: 0.45, 10: 0.45,
         1: 0.5, 11: 0.5, 6: 0.5}  # fmt: skip
# What the tonic chord of each colour of home is, in cost where the chord is another.
_AT_HOME: dict[Colour, dict[Kind, float]] = {
    "major": {Kind.DOMINANT: 1.2, Kind.MINOR: 1.0, Kind.MINOR7: 1.2, Kind.MINOR6: 1.0},
    "minor": {Kind.DOMINANT: 1.5, Kind.MAJOR: 0.8, Kind.MAJOR7: 0.8, Kind.MINOR7: -0.3},
    "blues": {Kind.DOMINANT: -0.6, Kind.MINOR: 1.0, Kind.MINOR7: 1.2, Kind.MINOR6: 1.0,
              Kind.MAJOR7: 0.2},
}  # fmt: skip
_BLUES_FOUR = 0.8  # in a blues the four is a second home, not an event
_OPENING, _CLOSING = 2.0, 1.5  # what it is worth that a chorus starts, and ends, at home
_UNUSUAL: dict[Colour, float] = {"major": 0.0, "minor": 0.5, "blues": 1.0}


@dataclass(frozen=True, slots=True)
class Home:
    """A key for the whole chorus: a pitch class and major, minor or blues."""

    tonic: int
    colour: Colour

    @property
    def cost(self) -> float:
        """What it costs to suppose it before anything is heard."""
        return _UNUSUAL[self.colour]


def homes(tonic: int | None = None, minor: bool = False) -> Iterator[Home]:
    """Every home there may be; with the key given, the colours it leaves open."""
    for pc in range(12) if tonic is None else (tonic,):
        if tonic is None or not minor:
            yield Home(pc, "major")
        if tonic is None or minor:
            yield Home(pc, "minor")
        yield Home(pc, "blues")


def costs_under(home: Home, events: Sequence[Event]) -> list[list[float]]:
    """For each state of each event, what the supposed home adds to its cost."""
    rows = [_row(home, event) for event in events]
    for event, row, bonus in ((events[0], rows[0], _OPENING), (events[-1], rows[-1], _CLOSING)):
        for i, (state, _) in enumerate(states_of(event.kind)):
            if event.root == home.tonic and state == (Role.TONIC, 0):
                row[i] -= bonus
    return rows


def _row(home: Home, event: Event) -> list[float]:
    at_home = _AT_HOME[home.colour].get(event.kind, 0.0)
    row = []
    for (role, offset), _ in states_of(event.kind):
        away = (event.root + offset - home.tonic) % 12
        cost = _AWAY[away]
        if role is Role.TONIC and away == 0 and offset == 0:
            cost += at_home
        if role is Role.SUBDOMINANT and away == 0 and home.colour == "blues":
            cost -= _BLUES_FOUR
        row.append(cost)
    return row
