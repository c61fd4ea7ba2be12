"""The first-choice scale of each chord, in time: from the root, from any chord tone, or as one
line that goes on through the changes.

Source: teaching practice. The continuing line keeps its direction through a change; the
next note is a semitone or a tone away, the chord tone where both would do, else the semitone; it
turns on a chord tone at the end of the range only.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

import numpy as np

from changewright.lesson.families._scale_shapes import SHAPES, shaped_plan
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground, Patch
from changewright.lesson.lines import line_trellis, stays, write_line
from changewright.lesson.spots import Spot, pool_of
from changewright.lesson.tastes import RANGE, TARGET
from changewright.line.grammar import Grammar, Mask, Move, Preference, Rule, Weights
from changewright.line.slot import Ints
from changewright.music.bar import Quarters
from changewright.music.line import Note
from changewright.music.promise import Keeps, Lands, Promise, Steps
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree

__all__ = ["FAMILY"]

_NONE = 0


@dataclass(frozen=True, slots=True)
class Direction:
    """Remember the direction: 0 none yet, 1 down, 2 up."""

    codes: int = 3

    def begin(self, size: int) -> Ints:
        """None yet."""
        return np.zeros(size, dtype=np.int64)

    def advance(self, move: Move) -> Ints:
        """The direction just taken; a new start has none."""
        rise = np.sign(_rise(move))
        way: Ints = np.where(rise == 0, move.memory, np.where(rise > 0, 2, 1))
        return np.zeros_like(way) if move.now["fresh"] else way


def _rise(move: Move) -> Mask:
    return move.after["pitch"] - move.before["pitch"]


def _has(bits: int, pitch: Mask) -> Mask:
    return (np.int64(bits) >> (pitch % 12)) & 1


def _nearest(move: Move, way: int) -> Mask:
    """How far the next note of the new scale lies in a direction."""
    here, scale, tones = move.before["pitch"], move.now["scale"], move.now["tones"]
    one, two = _has(scale, here + way), _has(scale, here + 2 * way)
    near = np.where(one, 1, np.where(two, 2, 3))
    better = one & two & _has(tones, here + 2 * way) & (1 - _has(tones, here + way))
    return np.where(better & move.now["change"], 2, near)


def _not_next(move: Move) -> Mask:
    rise = _rise(move)
    good = (rise == _nearest(move, 1)) | (rise == -_nearest(move, -1))
    return ~good & (move.now["fresh"] == 0)


def _turning(move: Move) -> Mask:
    way = np.where(_rise(move) > 0, 2, 1)
    return (way != move.memory) & (move.memory != _NONE) & (move.now["fresh"] == 0)


def _turns_early(move: Move) -> Mask:
    rising = move.memory == 2
    may = np.where(rising, move.before["top"], move.before["bottom"]) == 1
    return _turning(move) & ~may


def _goes_past(move: Move) -> Mask:
    must = (move.before["must"] == 1) & (move.memory != _NONE) & (move.now["fresh"] == 0)
    return must & ~_turning(move)


def _wrong_way(move: Move) -> Mask:
    return (move.now["up"] == 1) & (move.memory == _NONE) & (_rise(move) < 0)


def _close(move: Move) -> Weights:
    joined = -0.35 * np.abs(_rise(move)).astype(float)
    return joined * move.now["fresh"]


def _onward(move: Move) -> Weights:
    return np.where(_turning(move), -2.0, 0.0)


NEXT = Rule("the scale's next note", _not_next, blame=3.0, repair="skip a note of the scale")
EARLY = Rule(
    "turns at the ends of the range",
    _turns_early,
    remembers=True,
    blame=1.0,
    repair="turn before the end of the range",
)
PAST = Rule("turns at the octave", _goes_past, remembers=True, blame=1.0, repair="run on")
UPWARD = Rule("upwards first", _wrong_way, remembers=True, blame=2.0, repair="start downwards")
GRAMMAR = Grammar(
    (RANGE, TARGET, NEXT, EARLY, PAST, UPWARD),
    (Preference("close joins", _close), Preference("keeps its direction", _onward)),
    Direction(),
)


def plan(ground: Ground, dice: Random) -> Plan:
    """Spots in an even stream, each chord's pool its scale."""
    variant = _variant(ground)
    if variant in SHAPES:
        return shaped_plan(ground, variant)
    spots = list(_spots(ground, variant, dice))
    trellis, pitches = line_trellis(
        ground, spots, GRAMMAR, lambda index: _facts(spots, index, variant)
    )
    slots = tuple(
        replace(
            slot,
            columns=(*slot.columns, *_turns(ground, spot, dict(slot.columns)["pitch"], variant)),
        )
        for slot, spot in zip(trellis.slots, spots, strict=True)
    )
    return Plan(
        replace(trellis, slots=slots),
        write_line(spots, pitches),
        lambda notes: tuple(_promises(ground, spots, notes)),
        _INSTRUCTIONS[variant],
        _remarks(ground, variant),
    )


def _variant(ground: Ground) -> str:
    if ground.fallback:
        return "from-any"
    named: str = ground.variant or ground.level.setting("chord-scales", "form", "up")
    return named


def _spots(ground: Ground, variant: str, dice: Random) -> Iterator[Spot]:
    unit = Fraction(ground.level.setting("chord-scales", "unit", "1"))
    for patch in ground.patches:
        new = patch.nth == 0
        target = _start(patch, variant, dice) if new else ()
        for index, (at, duration) in enumerate(_stream(patch, unit, variant)):
            first = new and index == 0
            fresh = first and variant != "continuing"
            yield Spot(
                at,
                duration,
                patch,
                pool_of(patch, "scale"),
                target=target if first and fresh else (),
                fresh=fresh,
            )


def _start(patch: Patch, variant: str, dice: Random) -> tuple[Degree, ...]:
    if variant in ("up", "up-and-down"):
        return (Degree(1),)
    others = patch.chord.four[1:] or patch.chord.four
    return (dice.choice(others),) if variant == "from-any" else ()


def _stream(patch: Patch, unit: Quarters, variant: str) -> Iterator[tuple[Quarters, Quarters]]:
    short = unit >= 1 and patch.stay == 1 and patch.length == 4 and variant != "continuing"
    if short:
        half = Fraction(1, 2)
        steps = [unit, unit, half, half, unit]
    else:
        count = max(1, int(patch.length // unit) - _spare(patch, unit, variant))
        steps = [unit] * (count - 1) + [patch.length - unit * (count - 1)]
    at = patch.start
    for step in steps:
        yield at, step
        at += step


def _spare(patch: Patch, unit: Quarters, variant: str) -> int:
    """How many notes to leave out at the end of a long chord, so that it closes on its root:
    up an octave and down is 15 notes, and 14 more each time."""
    whole = int(patch.stay * patch.length // unit)
    if patch.more or variant not in ("up", "up-and-down") or whole < 15:
        return 0
    spare = (whole - 15) % 14
    return spare if spare * unit < patch.length else 0


def _facts(spots: Sequence[Spot], index: int, variant: str) -> dict[str, int]:
    spot = spots[index]
    changed = index > 0 and spots[index - 1].patch.chord != spot.patch.chord
    return {
        "fresh": int(spot.fresh or index == 0),
        "change": int(changed and variant == "continuing"),
        "scale": _bits(spot.patch.chord, spot.pool),
        "tones": _bits(spot.patch.chord, spot.patch.chord.four),
        "up": int(variant in ("up", "up-and-down")),
    }


def _bits(chord: Chord, degrees: Sequence[Degree]) -> int:
    return sum(1 << chord.tone(d).pc for d in degrees)


def _turns(
    ground: Ground, spot: Spot, pitches: Sequence[int], variant: str
) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Where the line may turn: at the root (or the fifth, where there is no time for more) from
    the root; otherwise on a chord tone within a third of the range's end."""
    chord, low, high = spot.patch.chord, ground.span.low.midi, ground.span.high.midi
    root = chord.tone(Degree(1)).pc
    tones = {chord.tone(d).pc for d in chord.four}
    if variant in ("up", "up-and-down"):
        short = variant == "up-and-down" and spot.patch.stay == 1
        upper = {chord.tone(chord.fifth).pc} if short and chord.fifth else {root}
        top = tuple(int(p % 12 in upper) for p in pitches)
        bottom = tuple(int(p % 12 == root) for p in pitches)
        must = tuple(int(a or b) for a, b in zip(top, bottom, strict=True))
        return ("top", top), ("bottom", bottom), ("must", must)
    top = tuple(int(p % 12 in tones and high - p <= 4) for p in pitches)
    bottom = tuple(int(p % 12 in tones and p - low <= 4) for p in pitches)
    return ("top", top), ("bottom", bottom), ("must", (0,) * len(pitches))


def _promises(ground: Ground, spots: Sequence[Spot], notes: Sequence[Note]) -> Iterator[Promise]:
    yield from stays(spots)
    for spot in spots:
        if spot.target:
            yield Lands(spot.at, spot.target)
        elif spot.at > spots[0].at:
            yield Steps(spot.at, 3)
    for patch, inside in ground.by_patch(tuple(notes)):
        yield Keeps(patch.start, patch.end, tuple(n.onset for n in inside))


_INSTRUCTIONS = {
    "up": "The scale of each chord from its root up, in time.",
    "up-and-down": "The scale of each chord from its root, up and down again.",
    "from-any": "The scale of each chord, starting on one of its chord tones.",
    "continuing": "One unbroken line: keep your direction when the chord changes.",
}


def _remarks(ground: Ground, variant: str) -> tuple[str, ...]:
    if ground.fallback:
        return ("Your range has no room for every scale from its root yet.",)
    if variant == "continuing" and ground.breath_s is not None:
        return ("Breathe when you must, and come back in on the line.",)
    return ()


FAMILY = Family(
    id="chord-scales",
    title="Chord scales",
    since=2,
    about="the first-choice scale of each chord, in time",
    plan=plan,
    variants=("up", "up-and-down", "from-any", "continuing", *SHAPES),
    fallbacks=("", "from-any"),
    avoids=False,
)
