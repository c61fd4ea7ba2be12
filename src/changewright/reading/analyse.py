"""Read a chorus: keys, numerals, functions and scales, found together."""

from changewright.chart.model import Form
from changewright.music.bar import Change
from changewright.reading.grammar import Role, states_of
from changewright.reading.heard import Event, Kind, events_of
from changewright.reading.house import HouseRules
from changewright.reading.keys import Home, costs_under, homes
from changewright.reading.model import Function, ReadChange, Reading, ScaleChoice
from changewright.reading.numerals import degree_words, numeral_of, scale_degree
from changewright.reading.path import best_path
from changewright.reading.rules import Spot, rule_for
from changewright.reading.scales import Place, scales_for
from changewright.theory.key import Key, Mode, shortest_spelling
from changewright.theory.pitch import Name

__all__ = ["analyse"]

_MINORS = (Kind.MINOR, Kind.MINOR7, Kind.MINOR6)


def analyse(form: Form, house: HouseRules = HouseRules()) -> Reading:  # noqa: B008 (frozen)
    """Say of every change where it stands, what it does, and which scales fit and why."""
    events = events_of(form.bars)
    home, path = _best(form, events)
    spots = _spots(form, events, home, path)
    key = form.key or _spell(home.tonic, spots, "minor" if home.colour == "minor" else "major")
    read = [_read(form, spot, spots, key, house) for spot in spots]
    of_change = {i: one for one, spot in zip(read, spots, strict=True) for i in spot.event.changes}
    changes = tuple(
        _placed(of_change[i], change, bar.number, bar.beat_of(change.onset))
        for i, (bar, change) in enumerate((b, c) for b in form.bars for c in b.changes)
    )
    return Reading(form.title, key, form.bars, changes)


def _best(form: Form, events: tuple[Event, ...]) -> tuple[Home, list[int]]:
    given = form.key
    supposed = homes(given.tonic.pc, given.mode == "minor") if given else homes()
    found = []
    for home in supposed:
        cost, path = best_path(events, costs_under(home, events))
        found.append((cost + home.cost, path, home))
    _, path, home = min(found, key=lambda one: one[0])
    return home, path


def _spots(form: Form, events: tuple[Event, ...], home: Home, path: list[int]) -> tuple[Spot, ...]:
    changes = form.changes
    spots = []
    for i, (event, state) in enumerate(zip(events, path, strict=True)):
        role, offset = states_of(event.kind)[state][0]
        tonic = (event.root + offset) % 12
        before, after = events[i - 1], events[(i + 1) % len(events)]
        chord = changes[event.changes[0]].chord
        spots.append(Spot(event, chord, role, tonic, home, before, after))
    return tuple(spots)


def _spell(pc: int, spots: tuple[Spot, ...], mode: Mode) -> Key:
    """Name a tonic as the chart spells it, else from a chord that leads there."""
    for spot in spots:
        if spot.event.root == pc and spot.chord.root is not None and spot.chord.root.pc == pc:
            return shortest_spelling(Key(spot.chord.root, mode))
    near = next((s for s in spots if s.tonic == pc and s.chord.root is not None), spots[0])
    root = near.chord.root or Name(0)
    fifths = (near.event.root * 7 - pc * 7 + 5) % 12 - 5
    start = root.fifths if root.pc == near.event.root else Name(near.event.root * 7 % 12).fifths
    return shortest_spelling(Key(Name(start - fifths), mode))


def _mode(spot: Spot, spots: tuple[Spot, ...], home: Key) -> Mode:
    if spot.tonic == home.tonic.pc:
        return home.mode
    at_home = [s for s in spots if s.tonic == spot.tonic and s.event.root == spot.tonic]
    return "minor" if at_home and at_home[0].event.kind in _MINORS else "major"


def _read(
    form: Form, spot: Spot, spots: tuple[Spot, ...], home: Key, house: HouseRules
) -> ReadChange:
    key = (
        home if spot.tonic == home.tonic.pc else _spell(spot.tonic, spots, _mode(spot, spots, home))
    )
    changes = form.changes
    change = changes[spot.event.changes[0]]
    scales: tuple[ScaleChoice, ...] = ()
    rule = rule_for(spot)
    if rule:
        following = changes[(spot.event.changes[-1] + 1) % len(changes)].text
        scales = scales_for(Place(spot.chord, change.text, rule, home, key, following), house)
    function = Function(spot.role.value)
    return ReadChange(
        change, 1, "1", key, numeral_of(spot.chord, key), function, _doing(spot, key), scales
    )


def _placed(read: ReadChange, change: Change, bar: int, beat: str) -> ReadChange:
    return ReadChange(
        change, bar, beat, read.key, read.numeral, read.function, read.doing, read.scales
    )


def _doing(spot: Spot, key: Key) -> str:
    if spot.chord.root is None:
        return "no chord"
    degree = degree_words(scale_degree(spot.chord.root, key.tonic))
    words = {
        Role.TONIC: "home" if spot.degree == 0 else f"{degree}, standing in for home",
        Role.DOMINANT: f"{degree}, on the way to {key.words}",
        Role.SUBDOMINANT: f"{degree}, falling back to {key.words}",
        Role.COLOUR: f"{degree}, colouring {key.words}",
        Role.PASSING: f"{degree}, passing",
    }
    return words[spot.role]
