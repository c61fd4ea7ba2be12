"""Lines that aim: targets on strong beats, entered by approach notes or enclosures."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random

import numpy as np

from changewright.errors import InputError
from changewright.lesson.cells import breath_of, centre_of
from changewright.lesson.family import Plan
from changewright.lesson.ground import Ground, Patch
from changewright.lesson.lines import line_plan
from changewright.lesson.phrase_fit import Placement
from changewright.lesson.quoting import quoted, quotes_of, room_for
from changewright.lesson.rhythm import Flow, Need, compose_rhythm, onsets_of
from changewright.lesson.spots import Approach, Spot, crowned, spots_of, swell
from changewright.music.bar import Bar, Quarters
from changewright.music.promise import Promise
from changewright.theory.pitch import Degree

__all__ = ["Aims", "aim", "aimed_plan", "need_of", "targets_named"]

Aims = Mapping[Quarters, Approach]
"""Which approach leads into which onset: the first beat of a bar, or its middle."""


def targets_named(patch: Patch, names: str) -> tuple[Degree, ...]:
    """The chord's tones for names such as ``"1 3 5"``; third and fifth stand for what the chord
    has in their place."""
    chord = patch.chord
    has = {"1": Degree(1), "3": chord.third, "5": chord.fifth, "7": chord.seventh}
    found = tuple(d for name in names.split() if (d := has[name]) is not None)
    return found or chord.four


def aim(
    ground: Ground,
    dice: Random,
    figures: Sequence[Approach],
    share: float,
    middle: float = 0.0,
) -> Aims:
    """Choose what to aim at and how: a new chord rather than one that lasts, and with the share
    ``middle`` also beat three. Raises :class:`InputError` where there is nothing to aim at."""
    aims: dict[Quarters, Approach] = {}
    bars = ground.reading.bars
    able = [b for a, b in pairwise(bars) if _kinds(figures, a) and _led(ground, b.start)]
    if not able:
        raise InputError(
            "the changes have no bar to aim at",
            remedy="Choose another family, or a chart of at least two bars with chords.",
        )
    for before, bar in pairwise(bars):
        kinds = _kinds(figures, before)
        patch = ground.patch_at(bar.start)
        if bar not in able:
            continue
        lasts = patch is not None and patch.nth > 0
        if dice.random() < (share * 0.6 if lasts else share):
            aims[bar.start] = dice.choice(kinds)
    short = [f for f in figures if len(f.offsets) <= 2]
    for bar in bars:
        centre = bar.start + centre_of(bar)
        open_ended = bar.length == 4 and bar.end not in aims and _led(ground, centre)
        if middle and short and open_ended and dice.random() < middle:
            aims[centre] = dice.choice(short)
    return aims or {able[0].start: min(figures, key=lambda f: len(f.offsets))}


def _kinds(figures: Sequence[Approach], bar: Bar) -> list[Approach]:
    """The figures for which a bar has time: an eighth at least stands before them."""
    return [f for f in figures if len(f.offsets) < 2 * bar.length]


def _led(ground: Ground, onset: Quarters) -> bool:
    """Tell whether chords stand at an onset and all through the three eighths before it."""
    return all(ground.patch_at(onset - Fraction(n, 2)) is not None for n in range(4))


def aimed_plan(
    ground: Ground,
    dice: Random,
    aims: Aims,
    names: str,
    pool: str,
    instruction: str,
    needs: Mapping[int, Need] | None = None,
    flow: Flow = Flow(0.5),  # noqa: B008 (a frozen value)
    closing: bool = False,
    places: Sequence[Placement] = (),
    more: Sequence[Promise] = (),
    chromatic: float = 1.0,
    anywhere: Sequence[Approach] = (),
    sweep: float = 9.0,
    crown: bool = False,
    bold: float = 0.0,
) -> Plan:
    """A line over ``pool`` whose aims are met: rhythm first, told what the aims need.

    ``names`` are the degrees aimed at; ``needs`` replaces the usual breath every four bars;
    ``closing`` makes the last note one of the degrees too. ``places`` are phrases to set in,
    ``more`` is promised of them besides that they stand word for word;
    ``chromatic`` is the share of notes from outside the scale at most;
    ``anywhere`` are figures that may lead into beats two and four, where the rhythm has room;
    ``sweep`` is how far the contour goes in semitones, ``crown`` asks for one highest note,
    ``bold`` is a log weight for leaps.
    """
    bars = ground.reading.bars
    rng = np.random.default_rng(dice.getrandbits(64))
    asked = room_for(_needs(ground, aims) if needs is None else needs, places)
    cells = compose_rhythm(ground.level, bars, asked, rng, flow)
    timed = onsets_of(bars, cells)
    free = spots_of(ground, timed, pool)
    spots = _marked(free, _rationed(aims, len(free), places, chromatic), names)
    spots = _anywhere(spots, anywhere, names, dice)
    if closing:
        home = _at_rest(spots[-1].target or targets_named(spots[-1].patch, names))
        spots[-1] = replace(spots[-1], target=home, pool=home)
    spots = quoted(ground, swell(spots, ground, dice, sweep), places)
    spots = crowned(spots, ground, dice) if crown else spots
    facts = {"bold": round(10 * bold)} if bold else {}
    return line_plan(ground, spots, instruction, (*quotes_of(places), *more), more=lambda _: facts)


def _at_rest(degrees: tuple[Degree, ...]) -> tuple[Degree, ...]:
    """The degrees on which a chorus may end: no diminished or augmented fifth."""
    return tuple(d for d in degrees if not (d.number == 5 and d.alter)) or degrees


def _rationed(aims: Aims, count: int, places: Sequence[Placement], share: float) -> Aims:
    """The aims with as many chromatic notes as the share allows, every second one given up
    first."""
    # a phrase takes the place of about as many notes as it has
    spent = sum(not n.inside for p in places for n in p.phrase.notes)
    kept: dict[Quarters, Approach] = {}
    order = sorted(aims)
    for at in (*order[::2], *order[1::2]):
        cost = sum(isinstance(step, int) for step in aims[at].offsets)
        if share >= 1 or spent + cost <= share * count:
            kept[at] = aims[at]
            spent += cost
    return kept


def _needs(ground: Ground, aims: Aims) -> dict[int, Need]:
    every, last = ground.bars_a_breath, len(ground.reading.bars) - 1
    return {
        index: need_of(
            bar,
            aims,
            breath_of(bar) if index % every == every - 1 or index == last else Fraction(0),
        )
        for index, bar in enumerate(ground.reading.bars)
    }


def need_of(bar: Bar, aims: Aims, rest: Quarters, most: int = 99, on_one: bool = False) -> Need:
    """What aims need of a bar's rhythm: room for what leads on, and else a rest at its end."""
    centre = bar.start + centre_of(bar)
    tail = len(aims[bar.end].offsets) if bar.end in aims else 0
    lead = len(aims[centre].offsets) if centre in aims else 0
    rest = min(rest, Fraction(1)) if lead else rest
    return Need(
        on_one=on_one or bar.start in aims,
        middle=centre in aims,
        lead=lead,
        tail=tail,
        rest=Fraction(0) if tail else rest,
        most=most,
    )


def _marked(spots: Sequence[Spot], aims: Aims, names: str) -> list[Spot]:
    marked = list(spots)
    at = {spot.at: i for i, spot in enumerate(marked)}
    for onset, figure in aims.items():
        _mark(marked, at[onset], figure, names)
    return marked


def _mark(marked: list[Spot], target: int, figure: Approach, names: str) -> None:
    """Make a spot a target, and those before it the figure that leads there."""
    spot = marked[target]
    degrees = targets_named(spot.patch, names)
    count = len(figure.offsets)
    marked[target] = replace(spot, target=degrees, pool=degrees, approach=figure)
    for place in range(count):
        lead = target - count + place
        marked[lead] = replace(
            marked[lead], patch=spot.patch, pool=degrees, approach=figure, place=place
        )


_SHARE = 0.5
"""How many of the places on beats two and four are used. Common practice, no source."""


def _anywhere(
    spots: Sequence[Spot], figures: Sequence[Approach], names: str, dice: Random
) -> list[Spot]:
    marked = list(spots)
    for index in range(1, len(marked)):
        figure = dice.choice(figures) if figures and dice.random() < _SHARE else None
        if figure is not None and _has_room(marked, index, len(figure.offsets)):
            _mark(marked, index, figure, names)
    return marked


def _has_room(spots: Sequence[Spot], index: int, count: int) -> bool:
    """Tell whether free eighths run up to a free note on beat two or four."""
    spot = spots[index]
    off = spot.at - spot.patch.bar.start
    if index < count or off not in (1, 3) or spot.approach is not None or spot.target:
        return False
    before = spots[index - count : index]
    run = [*before, spot]
    return all(
        s.approach is None and not s.target and s.duration == Fraction(1, 2) for s in before
    ) and all(a.at + a.duration == b.at for a, b in pairwise(run))
