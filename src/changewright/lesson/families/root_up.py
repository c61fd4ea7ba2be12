"""Chord tones from the root up, or down from it, in time, as the chords pass.

Source: teaching practice; so are its fallbacks for small ranges.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import chain, pairwise
from random import Random

from changewright.lesson.family import Family, Plan
from changewright.lesson.figures import (
    AWKWARD,
    INNER_LEAP,
    RANGE,
    SAME_TWICE,
    SMALL_JOIN,
    Figure,
    Timing,
    figure_slots,
    rising,
    scored,
    timed,
    write_figures,
)
from changewright.lesson.ground import Ground, Patch
from changewright.line.grammar import Grammar, Mask, Move, Preference, Rule, Weights
from changewright.line.trellis import Trellis
from changewright.music.bar import Quarters
from changewright.music.line import Note
from changewright.music.promise import Climbs, Lands, Leaps, Promise, Stays
from changewright.theory.pitch import Degree

__all__ = ["FAMILY"]

Pitched = list[tuple[Degree, int]]


def _off_register(move: Move) -> Mask:
    return move.after["register"] == 0


def _not_its_turn(move: Move) -> Mask:
    return move.after["turn"] == 0


def _shape(move: Move) -> Weights:
    return move.after["fits"].astype(float) * 0.5


REGISTER = Rule("register", _off_register, True, blame=1.0, repair="start in another octave")
TURN = Rule("the bar's figure", _not_its_turn, True, blame=4.0, repair="play another figure")
GRAMMAR = Grammar(
    (RANGE, AWKWARD, INNER_LEAP, REGISTER, TURN, SAME_TWICE),
    (SMALL_JOIN, Preference("shape of a long chord", _shape, single=True)),
)


def plan(ground: Ground, dice: Random) -> Plan:
    """Each chord from its root up; a chord that lasts comes down again and comes to rest."""
    shape = _shared_shape(ground, dice)
    slots, choices = figure_slots(
        ground,
        ground.patches,
        lambda patch: _figures(ground, patch, shape),
        lambda patch: {"new": int(patch.nth == 0)},
    )
    return Plan(
        Trellis(GRAMMAR, slots),
        write_figures(ground.patches, choices),
        lambda notes: _promises(ground, notes),
        _instruction(ground, _has_sevenths(ground.patches, choices)),
        _remarks(ground),
    )


def _shared_shape(ground: Ground, dice: Random) -> str:
    """One shape for the whole exercise, drawn from those that fit every chord: a drill that
    changes its mind teaches nothing."""
    full = [p for p in ground.changes if p.length > 2] or list(ground.changes)
    low, high = ground.span.low.midi, ground.span.high.midi
    fitting: list[set[str]] = []
    for patch in full:
        inside = (f for f in _figures(ground, patch, "") if _reachable(f, range(low, high + 1)))
        fitting.append({figure.kind for figure in inside})
    shared = sorted(set.intersection(*fitting)) or sorted(set.union(*fitting)) or ["up"]
    return dice.choice(shared)


def _tones(ground: Ground, patch: Patch) -> list[tuple[Degree, int]]:
    chord = patch.chord
    kept = chord.four[:3] if ground.fallback == "triads" else chord.four
    return [(d, chord.tone(d).pc) for d in kept]


def _figures(ground: Ground, patch: Patch, shape: str) -> list[Figure]:
    tones = _tones(ground, patch)
    if ground.fallback == "folded" and len(tones) == 4 and ground.variant != "down":
        tones = [tones[3], *tones[:3]]
    shapes = list(_shapes(ground, patch, tones, shape))
    reach = ground.reach
    starts = [m for m in range(reach.start - 12, reach.stop) if m % 12 == tones[0][1]]
    falls = ground.variant == "down"
    figures = [_placed(shape, tones, low, falls) for low in starts for shape in shapes]
    if ground.fallback == "inverted":
        figures += _inverted(ground, patch, tones, shape)
    return _registered(ground, [f for f in figures if _reachable(f, reach)])


Shape = tuple[str, tuple[int, ...], Timing, int, int]
"""A kind, indices into the stacked tones, durations, whether it is this bar's turn, how well it
fits."""


def _placed(shape: Shape, tones: Pitched, low: int, falls: bool) -> Figure:
    kind, order, timing, turn, fits = shape
    octave = [*tones, (tones[0][0], tones[0][1])]
    stacked = rising(octave, low)
    picked = [stacked[len(tones) - i if falls else i] for i in order]
    return scored(kind, picked, timing, turn=turn, fits=fits)


def _reachable(figure: Figure, reach: range) -> bool:
    return all(p in reach for p in figure.pitches)


def _shapes(ground: Ground, patch: Patch, tones: Sequence[object], liked: str) -> list[Shape]:
    unit = Fraction(ground.level.setting("root-up", "unit", "1"))
    first = _opening(patch.length, unit, len(tones), ground.level.setting("root-up", "half", ""))
    if patch.nth == 0:
        return [(k, o, d, 1, 8 * int(k == liked)) for k, o, d in first]
    shapes = [*first, *_continuing(patch.length, unit, len(tones))]
    close = not patch.more
    return [(k, o, d, 1, int(close and k in _RESTFUL) * 4) for k, o, d in shapes]


_RESTFUL = ("root held", "up and rest", "down and rest")

Plain = tuple[str, tuple[int, ...], Timing]


def _opening(length: Quarters, unit: Quarters, count: int, half: str) -> list[Plain]:
    if length < 2 or (length <= 2 and half == "root"):
        return [("root", (0,), timed(length))]
    if length <= 2 and half == "two":
        return [("up", (0, 1), timed(length / 2, length / 2))]
    if length <= 2:
        unit = length / count
    order = tuple(range(count))
    if unit * count == length:
        return [("up", order, timed(*(unit,) * count))]
    if unit * count < length:
        return _room_to_spare(length, unit, count)
    kept = int(length // unit)
    return [("up", order[:kept], _filled(unit, kept, length))]


def _room_to_spare(length: Quarters, unit: Quarters, count: int) -> list[Plain]:
    up = tuple(range(count))
    there_and_back = (*up, *reversed(up[:-1]))
    over = (*up, count, *reversed(up))
    found: list[Plain] = []
    for name, order in (("up and down", there_and_back), ("up to the octave", over)):
        if unit * len(order) <= length:
            found.append((name, order, _filled(unit, len(order), length)))
        else:
            kept = int(length // unit)
            found.append((name, order[:kept], _filled(unit, kept, length)))
    if unit * 2 * count > length:
        found.append(("up", up, _filled(unit, count, length)))
    return found


def _filled(unit: Quarters, count: int, length: Quarters) -> Timing:
    return timed(*(unit,) * (count - 1), length - unit * (count - 1))


def _continuing(length: Quarters, unit: Quarters, count: int) -> list[Plain]:
    down = tuple(reversed(range(count)))
    found: list[Plain] = [("root held", (0,), timed(length - 1 if length > 2 else length))]
    if unit * count <= length:
        found.append(("down", down, _filled(unit, count, length)))
    if length - 2 * unit - 1 > 0:
        rest = timed(unit, unit, length - 2 * unit - 1)
        found.append(("up and rest", (0, 1, 2), rest))
        found.append(("down and rest", (2, 1, 0), rest))
    return found


def _inverted(
    ground: Ground, patch: Patch, tones: list[tuple[Degree, int]], liked: str
) -> list[Figure]:
    found: list[Figure] = []
    for turn in range(1, len(tones)):
        turned = [*tones[turn:], *tones[:turn]]
        shapes = _shapes(ground, patch, turned, liked)
        for low in range(ground.reach.start, ground.reach.stop):
            if low % 12 == turned[0][1]:
                found += [_placed(shape, turned, low, ground.variant == "down") for shape in shapes]
    return found


def _registered(ground: Ground, figures: list[Figure]) -> list[Figure]:
    """Mark the register to use: the root nearest below the middle from which the figure fits,
    else the nearest that does."""
    low, high = ground.span.low.midi, ground.span.high.midi

    def rank(figure: Figure) -> tuple[int, int, int]:
        fits = low <= min(figure.pitches) and max(figure.pitches) <= high
        sour = any(p in ground.awkward_midi for p in figure.pitches)
        away = ground.middle - min(figure.pitches)
        return int(not fits or sour), int(away < 0), abs(away)

    best: dict[str, tuple[int, int, int]] = {}
    for figure in figures:
        best[figure.kind] = min(best.get(figure.kind, (9, 9, 999)), rank(figure))
    return [
        Figure(f.kind, f.tones, (*f.marks, ("register", int(rank(f) == best[f.kind]))))
        for f in figures
    ]


def _promises(ground: Ground, notes: tuple[Note, ...]) -> tuple[Promise, ...]:
    return tuple(
        chain.from_iterable(
            _patch_promises(ground, patch, inside) for patch, inside in ground.by_patch(notes)
        )
    )


def _patch_promises(ground: Ground, patch: Patch, notes: list[Note]) -> list[Promise]:
    tones = tuple(d for d, _ in _tones(ground, patch))
    first = notes[0].degree
    promises: list[Promise] = [
        Stays(patch.start, patch.end, tones),
        Leaps(patch.start, patch.end, ground.level.widest_leap),
    ]
    if patch.nth == 0 and first is not None:
        promises.insert(0, Lands(patch.start, (first,)))
        climb = [b.pitch.midi - a.pitch.midi for a, b in pairwise(notes)]
        if climb and all(step > 0 for step in climb):
            promises.append(Climbs(patch.start, patch.end))
    return promises


def _has_sevenths(patches: Sequence[Patch], choices: Sequence[Sequence[Figure]]) -> bool:
    """Tell whether any bar has time for a fourth chord tone."""
    return any(
        tone.degree == patch.chord.four[-1]
        for patch, figures in zip(patches, choices, strict=True)
        if len(patch.chord.four) > 3
        for figure in figures
        for tone in figure.tones
    )


def _instruction(ground: Ground, sevenths: bool) -> str:
    if ground.variant == "down":
        return _DOWN["inverted" if ground.fallback == "inverted" else "seventh" if sevenths else ""]
    if not ground.fallback and not sevenths:
        return "Root, third, fifth: start each new chord on its root, on beat one."
    words = {
        "": "Root, third, fifth, seventh: start each new chord on its root, on beat one.",
        "triads": "Root, third, fifth: start each new chord on its root, on beat one.",
        "folded": "All four notes of each chord upwards, the seventh tucked under the root.",
        "inverted": "All the notes of each chord upwards, from whichever lies in your range.",
    }
    return words[ground.fallback]


_DOWN = {
    "": "Down from the root: start each new chord on its root, on beat one.",
    "seventh": "Root, seventh, fifth, third: start each new chord on its root, and come down.",
    "inverted": "All the notes of each chord downwards, from whichever lies in your range.",
}


def _remarks(ground: Ground) -> tuple[str, ...]:
    words = {
        "": (),
        "triads": ("Your range has no room for the sevenths yet.",),
        "folded": ("Your range has no room for the sevenths on top yet.",),
        "inverted": ("Your range has no room for every chord from its root yet.",),
    }
    return words[ground.fallback]


FAMILY = Family(
    id="root-up",
    title="Chord tones from the root up",
    since=1,
    about="1-3-5-7 of each chord from the root up, or down from it, in time",
    plan=plan,
    variants=("up", "down"),
    fallbacks=("", "triads", "folded", "inverted"),
)
