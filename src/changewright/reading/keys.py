"""Which key the whole chorus may be in, and what that makes likely."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from changewright.reading.grammar import Role, states_of
from changewright.reading.heard import Event, Kind
from changewright.reading.model import Colour
from changewright.reading.path import Lattice
from changewright.theory.key import Key

__all__ = ["Home", "costs_of", "costs_under", "likely_homes", "shown_tonics"]


# How far a local tonic lies from home, in cost a chord; keys are semitones above the home tonic.
_AWAY = {0: 0.0, 5: 0.1, 7: 0.15, 9: 0.15, 3: 0.15, 8: 0.15, 2: 0.2, 4: 0.2, 10: 0.2,
         1: 0.25, 11: 0.25, 6: 0.25}  # fmt: skip
# What the tonic chord of each colour of home is, in cost where the chord is another.
_AT_HOME: dict[Colour, dict[Kind, float]] = {
    "major": {Kind.DOMINANT: 1.2, Kind.MINOR: 1.0, Kind.MINOR7: 1.2, Kind.MINOR6: 1.0},
    "minor": {Kind.DOMINANT: 1.5, Kind.MAJOR: 0.8, Kind.MAJOR7: 0.8, Kind.MINOR7: -0.7},
    "blues": {Kind.DOMINANT: -0.75, Kind.MINOR: 1.0, Kind.MINOR7: 1.2, Kind.MINOR6: 1.0,
              Kind.MAJOR7: 1.2, Kind.MAJOR: 0.4},
}  # fmt: skip
_UNUSUAL: dict[Colour, float] = {"major": 0.0, "minor": 0.2, "blues": 1.0}
_UNHEARD = 0.6  # a home that no chord plainly is may be meant, as in ii V, but is a guess
_BLUES_FOUR = 0.8  # in a blues the four is a second home, not an event
_BLUES_FOUR_AS_HOME = 0.6
_FOREIGN_SEVENTH = 0.8  # a seventh chord is home in its blues, and on the four; seldom elsewhere
_LONG_TWO = 2.5  # a minor or suspended chord of four bars isn't on its way: it is a mode
_LONG_SUSPENDED = -2.5  # ... and at home in it
_HOME_LEAVES = 0.6  # in a minor key im7 may be the two of the flat seven, but is home first
_LONG_COLOUR = 0.9  # what lasts longer than a bar is more than a colour
_SETTLES = 0.8  # a minor chord without a seventh that lasts is more likely home
_MINOR_SIX = 1.0  # bVI for i is common, bVI for I is not
# What it is worth that a chorus of up to 32 bars starts, and ends, at home; a chart that writes
# many choruses out is worth as much more, or else the costs chord by chord would drown it.
_OPENING, _CLOSING = 1.0, 1.2
_CHORUS = Fraction(32 * 4)

# How well a chord of each kind shows its root as a tonic, a quarter of duration.
_SHOWS = {Kind.MAJOR: 1.0, Kind.MAJOR7: 1.0, Kind.MINOR6: 0.9, Kind.MINOR: 0.9,
          Kind.MINOR7: 0.4, Kind.DOMINANT: 0.4}  # fmt: skip
_ARRIVAL, _EDGE, _TARGET = 4.0, 8.0, 0.3
_LEADS_ROUND = 0.6  # how well a five at the end shows the tonic that it leads round to
_HOMES = 3
_FOUR, _FLAT_SIX = 5, 8  # semitones above the tonic
_SOME = Fraction(1, 4)  # a colour that the tonic's chords have for less isn't tried
_FIVES = (Kind.DOMINANT, Kind.AUGMENTED, Kind.SUSPENDED)
_SETTLED = (Kind.MINOR, Kind.MINOR6)
_MINORS = (Kind.MINOR, Kind.MINOR6, Kind.MINOR7)
_MODES = (*_MINORS, Kind.SUSPENDED)


@dataclass(frozen=True, slots=True)
class Home:
    """A key for the whole chorus: a pitch class and major, minor or blues.

    ``is_heard`` tells whether any chord stands on it in that colour.
    """

    tonic: int
    colour: Colour
    is_heard: bool = True

    @property
    def cost(self) -> float:
        """What it costs to suppose it before anything is heard."""
        return _UNUSUAL[self.colour] + (0.0 if self.is_heard else _UNHEARD)


def likely_homes(events: Sequence[Event], given: Key | None = None) -> tuple[Home, ...]:
    """The homes worth trying: the tonics best shown, in the colours that their chords have."""
    if given is not None:
        tonics = [given.tonic.pc]
    else:
        shown = _shown(events)
        first = events[0].root
        ranked = sorted(shown, key=lambda pc: (-shown[pc], (pc - first) % 12))
        tonics = [pc for pc in ranked if shown[pc] > 0 or pc == ranked[0]][:_HOMES]
    return tuple(home for pc in tonics for home in _colours(pc, events, given))


def _colours(pc: int, events: Sequence[Event], given: Key | None) -> Iterator[Home]:
    """The colours that the chords on a tonic leave open; a given key settles the mode.

    A blues has a seventh on the four as well, or nothing but its one.
    """
    lasts = {"major": Fraction(0), "minor": Fraction(0), "blues": Fraction(0)}
    for event in events:
        if event.root == pc:
            lasts[_colour_of(event.kind)] += event.duration
    whole = sum(lasts.values(), Fraction(0))
    enough = whole * _SOME
    minor = lasts["minor"] > enough or (not whole and _has_minor_two(pc, events))
    major = lasts["major"] + lasts["blues"] > enough or not minor
    if given is not None:
        minor = given.mode == "minor"
        major = not minor
    if major:
        yield Home(pc, "major", lasts["major"] > 0)
        if lasts["blues"] > enough and _has_blue_four(pc, events):
            yield Home(pc, "blues")
    if minor:
        yield Home(pc, "minor", lasts["minor"] > 0)


def _has_minor_two(pc: int, events: Sequence[Event]) -> bool:
    return any(e.kind is Kind.HALF_DIMINISHED and (e.root - pc) % 12 == 2 for e in events)


def _has_blue_four(pc: int, events: Sequence[Event]) -> bool:
    blue = any(e.kind is Kind.DOMINANT and (e.root - pc) % 12 == _FOUR for e in events)
    return blue or all(e.root == pc for e in events)


def _colour_of(kind: Kind) -> Colour:
    if kind is Kind.DOMINANT:
        return "blues"
    return "minor" if kind in _MINORS else "major"


def _shown(events: Sequence[Event]) -> dict[int, float]:
    """How well each pitch class is shown as a tonic: by duration, by arrival, at the edges."""
    shown = dict.fromkeys(range(12), 0.0)
    for before, event in zip((events[-1], *events[:-1]), events, strict=True):
        weight = _shows(event)
        shown[event.root] += weight * float(event.duration)
        if weight and before.kind in _FIVES and _rise(before, event) == 5:
            shown[event.root] += _ARRIVAL * weight
        if event.kind in _FIVES:
            led = before.kind in (*_MINORS, Kind.HALF_DIMINISHED) and _rise(before, event) == 5
            weight = _TARGET * (2 if led else 1)
            shown[(event.root + 5) % 12] += weight * float(event.duration)
    shown[events[0].root] += _EDGE * _shows(events[0])
    last = events[-1]
    if last.kind in _FIVES:
        shown[(last.root + 5) % 12] += _EDGE * _LEADS_ROUND
    else:
        shown[last.root] += _EDGE * _shows(last)
    return shown


def _shows(event: Event) -> float:
    if event.kind is Kind.SUSPENDED and event.is_still:
        return _SHOWS[Kind.MINOR7]
    return _SHOWS.get(event.kind, 0.0)


def _rise(a: Event, b: Event) -> int:
    return (b.root - a.root) % 12


def shown_tonics(events: Sequence[Event], homes: Sequence[Home]) -> frozenset[int]:
    """Every tonic some chord shows: a plain chord, or a seventh that was led to or lasts."""
    found = {home.tonic for home in homes}
    around = zip((events[-1], *events[:-1]), events, strict=True)
    found.update(event.root for before, event in around if _is_shown(before, event))
    return frozenset(found)


def _is_shown(before: Event, event: Event) -> bool:
    if event.kind not in (Kind.MINOR7, Kind.DOMINANT):
        return _shows(event) > 0
    led_to = before.kind in (*_FIVES, Kind.DIMINISHED) and _rise(before, event) in (5, 1)
    return led_to or event.is_long


def costs_under(home: Home, lattice: Lattice) -> list[list[float]]:
    """For each state of each event, what the supposed home adds to its cost."""
    rows = []
    for (kind, root, is_long, is_still), kept in zip(lattice.alike, lattice.kept, strict=True):
        whole = costs_of(home.colour, kind, (root - home.tonic) % 12, is_long, is_still)
        rows.append([whole[index] for index in kept])
    times = max(1.0, float(sum(event.duration for event in lattice.events) / _CHORUS))
    _reward(rows[0], lattice, 0, home, _OPENING * times)
    _reward(rows[-1], lattice, len(rows) - 1, home, _CLOSING * times)
    return rows


def _reward(row: list[float], lattice: Lattice, at: int, home: Home, bonus: float) -> None:
    """What it is worth that a chorus starts and ends at home, or turns round to it."""
    event, states = lattice.events[at], lattice.states[at]
    closes = event.kind is not Kind.DOMINANT or home.colour == "blues"
    if event.root == home.tonic and closes:
        row[states.index((Role.TONIC, home.tonic))] -= bonus
    elif at and event.kind in _FIVES and (event.root + 5) % 12 == home.tonic:
        row[states.index((Role.DOMINANT, home.tonic))] -= bonus / 2


@cache
def costs_of(
    colour: Colour, kind: Kind, root: int, is_long: bool, is_still: bool
) -> tuple[float, ...]:
    """What a home adds to each state of a chord; ``root`` is counted from the home's tonic."""
    found = []
    for (role, offset), _ in states_of(kind):
        away = (root + offset) % 12
        cost = _AWAY[away]
        match role:
            case Role.TONIC:
                cost += _staying(colour, kind, root, away, is_still)
            case Role.DOMINANT:
                cost += _leading(colour, kind, root, is_long, is_still)
            case Role.COLOUR if is_long:
                cost += _LONG_COLOUR
            case Role.SUBDOMINANT if is_long and colour == "blues" and kind is Kind.DOMINANT:
                cost -= _BLUES_FOUR if away == 0 else 0.0
            case _:
                pass
        found.append(cost)
    return tuple(found)


def _staying(colour: Colour, kind: Kind, root: int, away: int, is_still: bool) -> float:
    cost = 0.0
    if kind is Kind.SUSPENDED and is_still:
        cost += _LONG_SUSPENDED
    if kind is Kind.DOMINANT and away:
        on_four = -_BLUES_FOUR_AS_HOME if colour == "blues" else 0.0
        cost += on_four if away == _FOUR else _FOREIGN_SEVENTH
    if not away and colour == "minor" and root == _FLAT_SIX:
        cost -= _MINOR_SIX
    if not away and root == 0:
        cost += _AT_HOME[colour].get(kind, 0.0)
    return cost


def _leading(colour: Colour, kind: Kind, root: int, is_long: bool, is_still: bool) -> float:
    cost = 0.0
    if kind in _MODES and is_still:
        cost += _LONG_TWO
    elif kind in _SETTLED and is_long:
        cost += _SETTLES
    if colour == "minor" and kind is Kind.MINOR7 and root == 0:
        cost += _HOME_LEAVES
    return cost
