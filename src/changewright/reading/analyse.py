"""Read a chorus: keys, numerals, functions and scales, found together."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from changewright.chart.model import Form, Pin
from changewright.music.bar import Bar, Change
from changewright.reading.areas import area_tonics, goals
from changewright.reading.cadences import cadences_of
from changewright.reading.grammar import Role
from changewright.reading.heard import Event, events_of
from changewright.reading.house import HouseRules
from changewright.reading.keys import Home
from changewright.reading.model import (
    Area,
    Function,
    Other,
    OtherHome,
    ReadChange,
    Reading,
    ScaleChoice,
)
from changewright.reading.numerals import numeral_of
from changewright.reading.passages import passages_of
from changewright.reading.path import Standing
from changewright.reading.rules import following, rule_for
from changewright.reading.scales import Place, scales_for
from changewright.reading.search import RUNNERS_UP, Found, search
from changewright.reading.spelling import Speller
from changewright.reading.spot import MINORS, Spot
from changewright.reading.ties import agreed, jumps
from changewright.reading.words import doing_of, relation_of
from changewright.theory.chord import Chord
from changewright.theory.key import Key, Mode
from changewright.theory.pitch import Name

__all__ = ["analyse"]

_HELD = Fraction(1)
_TOO_FAR = 3.0  # a reading that costs so much more isn't worth naming
_NO_HOUSE = HouseRules()


def analyse(
    form: Form, house: HouseRules = _NO_HOUSE, pins: Sequence[Pin] | None = None
) -> Reading:
    """Say of every change where it stands, what it does, and which scales fit and why.

    ``pins`` replace the form's own. A pinned key holds for the chords that start in its stretch;
    the rest of the chorus is read round it.
    """
    pins = form.pins if pins is None else pins
    written = form.changes
    cuts = jumps(form.bars) | {pin.start for pin in pins} | {pin.end for pin in pins}
    events = events_of(form.bars, cuts)
    if not events:
        return _silent(form)
    firsts = [written[event.changes[0]] for event in events]
    chords = [change.chord for change in firsts]
    pinned = [_pinned_key(pins, change.onset) for change in firsts]
    found = search(form, events, pinned)
    key = form.key or _home_key(chords, found.home)
    spots = _spots(chords, [c.text for c in firsts], events, found, key, pinned)
    changes = _placed(form, spots, _read_all(form, firsts, spots, found, house, pins))
    return Reading(
        form.title,
        key,
        form.bars,
        changes,
        found.home.colour,
        _areas(changes),
        cadences_of(changes, spots),
        passages_of(changes, spots),
        tuple(
            OtherHome(_home_key(chords, home), home.colour, round(more, 3))
            for home, more in found.others
        ),
        found.cost,
    )


def _silent(form: Form) -> Reading:
    """A chorus of nothing but N.C."""
    key = form.key or Key(Name(0))
    changes = tuple(
        ReadChange(
            change, bar.number, bar.beat_of(change.onset), key, "N.C.", Function.TONIC, _REST, ()
        )
        for bar in form.bars
        for change in bar.changes
    )
    return Reading(form.title, key, form.bars, changes)


_REST = "no chord"


def _pinned_key(pins: Sequence[Pin], onset: Fraction) -> Key | None:
    keys = (pin.key for pin in pins if pin.key is not None and pin.start <= onset < pin.end)
    return next(keys, None)


# --- from pitch classes to keys ------------------------------------------------------------------


def _mode_of(home: Home) -> Mode:
    return "minor" if home.colour == "minor" else "major"


def _home_key(chords: Sequence[Chord], home: Home) -> Key:
    return Speller(chords).key(home.tonic, _mode_of(home), 0)


def _spots(
    chords: Sequence[Chord],
    texts: Sequence[str],
    events: Sequence[Event],
    found: Found,
    home: Key,
    pinned: Sequence[Key | None],
) -> tuple[Spot, ...]:
    modes = _modes(events, found.standings, home)
    reached = goals(found.standings)
    pins = [None if key is None else key.tonic.pc for key in pinned]
    free = area_tonics(events, found.standings, home.tonic.pc, home.mode, pins)
    areas = agreed(found.places, free, home.tonic.pc)
    speller = Speller(chords, home)
    is_vamp = all(event.root == home.tonic.pc for event in events)
    blues = found.home.colour == "blues" and not is_vamp
    return tuple(
        Spot(
            event,
            chords[i],
            texts[i],
            *found.standings[i],
            goal=speller.key(reached[i], modes[reached[i]], i),
            key=pinned[i] or speller.key(areas[i], modes[areas[i]], i),
            blues=blues and areas[i] == home.tonic.pc,
            pinned=pinned[i] is not None,
        )
        for i, event in enumerate(events)
    )


def _modes(events: Sequence[Event], standings: Sequence[Standing], home: Key) -> dict[int, Mode]:
    """Major or minor for every tonic: by how long its own chord is heard as which."""
    minor = dict.fromkeys(range(12), Fraction(0))
    for event, (role, tonic) in zip(events, standings, strict=True):
        if role is Role.TONIC and event.root == tonic:
            minor[tonic] += event.duration if event.kind in MINORS else -event.duration
    modes: dict[int, Mode] = {pc: "minor" if sum_ > 0 else "major" for pc, sum_ in minor.items()}
    modes[home.tonic.pc] = home.mode
    return modes


# --- into words ----------------------------------------------------------------------------------


def _read_all(
    form: Form,
    firsts: Sequence[Change],
    spots: Sequence[Spot],
    found: Found,
    house: HouseRules,
    pins: Sequence[Pin],
) -> list[ReadChange]:
    speller = Speller([spot.chord for spot in spots])
    reached = {spot.goal.tonic.pc: spot.goal for spot in spots}
    read = []
    for i, (spot, change) in enumerate(zip(spots, firsts, strict=True)):
        melody = _melody(form, change, spot.event.duration)
        choices = _scales(spots, i, house, melody)
        fixed = _pinned_scale(pins, change)
        if fixed is not None:
            choices = (fixed, *(s for s in choices if s.scale != fixed.scale))
        others = _others(speller, reached, spot, i, found.margins[i])
        read.append(_read(spots, i, change, choices, others, fixed is not None))
    return read


def _read(
    spots: Sequence[Spot],
    i: int,
    change: Change,
    scales: tuple[ScaleChoice, ...],
    others: tuple[Other, ...],
    fixed: bool,
) -> ReadChange:
    spot = spots[i]
    return ReadChange(
        change=change,
        bar=0,
        beat="",
        key=spot.key,
        numeral=numeral_of(spot.chord, spot.key),
        function=Function(spot.role.value),
        doing=doing_of(spots, i),
        scales=scales,
        goal=spot.goal,
        relation=relation_of(spots, i),
        others=others,
        pinned=spot.pinned or fixed,
    )


def _scales(
    spots: Sequence[Spot], i: int, house: HouseRules, melody: frozenset[int]
) -> tuple[ScaleChoice, ...]:
    spot = spots[i]
    verdict = rule_for(spots, i)
    place = Place(
        chord=spot.chord,
        root=spot.root,
        text=spot.text,
        verdict=verdict,
        key=spot.key,
        goal=spot.goal,
        following=following(spots, i, verdict),
        melody=melody,
    )
    return scales_for(place, house)


def _pinned_scale(pins: Sequence[Pin], change: Change) -> ScaleChoice | None:
    here = (p.scale for p in pins if p.scale is not None and p.start <= change.onset < p.end)
    scale = next(here, None)
    if scale is None:
        return None
    return ScaleChoice(scale, f"{scale}: the chart asks for it here", (), "pin")


def _melody(form: Form, change: Change, duration: Fraction) -> frozenset[int]:
    """The pitch classes that the melody holds for a beat or more while the chord sounds."""
    if form.melody is None:
        return frozenset()
    return frozenset(
        note.pitch.name.pc
        for note in form.melody.notes
        if change.onset <= note.onset < change.onset + duration and note.duration >= _HELD
    )


def _others(
    speller: Speller,
    reached: Mapping[int, Key],
    spot: Spot,
    i: int,
    margins: Sequence[tuple[Standing, float]],
) -> tuple[Other, ...]:
    """The runner-up readings; ``reached`` are the keys that the best reading names itself."""
    own = (spot.role, spot.tonic)
    ranked = sorted(
        (round(more, 3), role.value, (tonic - spot.event.root) % 12)
        for (role, tonic), more in margins
        if more < _TOO_FAR and (role, tonic) != own
    )
    found = []
    for more, role, up in ranked[:RUNNERS_UP]:
        tonic = (spot.event.root + up) % 12
        mode: Mode = "minor" if up == 0 and spot.kind in MINORS else "major"
        key = reached.get(tonic) or speller.key(tonic, mode, i)
        found.append(Other(key, Function(role), more))
    return tuple(found)


def _placed(
    form: Form, spots: Sequence[Spot], read: Sequence[ReadChange]
) -> tuple[ReadChange, ...]:
    """One reading for each change: held chords share theirs, N.C. stands in the key around it."""
    of_change = {i: one for one, spot in zip(read, spots, strict=True) for i in spot.event.changes}
    placed = []
    last = read[0]
    index = 0
    for bar in form.bars:
        for change in bar.changes:
            sounding = index in of_change
            last = of_change.get(index, last)
            placed.append(_at(last, change, bar, sounding))
            index += 1
    return tuple(placed)


def _at(one: ReadChange, change: Change, bar: Bar, sounding: bool) -> ReadChange:
    return ReadChange(
        change=change,
        bar=bar.number,
        beat=bar.beat_of(change.onset),
        key=one.key,
        numeral=one.numeral if sounding else "N.C.",
        function=one.function,
        doing=one.doing if sounding else _REST,
        scales=one.scales if sounding else (),
        goal=one.goal,
        relation=one.relation if sounding else "",
        others=one.others if sounding else (),
        pinned=one.pinned,
    )


def _areas(changes: Sequence[ReadChange]) -> tuple[Area, ...]:
    found: list[Area] = []
    for one in changes:
        change = one.change
        if found and found[-1].key == one.key:
            found[-1] = replace(found[-1], end=change.end, last_bar=one.bar)
        else:
            found.append(Area(one.key, change.onset, change.end, one.bar, one.bar))
    return tuple(found)
