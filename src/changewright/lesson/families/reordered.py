"""The same four chord tones in another order.

Source: teaching practice. Broken orders lie in close position; joins of a fixed order
need up to a fifth, free orders join within a third (measured there over the common forms).
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations_with_replacement, permutations
from random import Random

import numpy as np

from changewright.lesson.family import Family, Plan
from changewright.lesson.figures import (
    AWKWARD,
    INNER_LEAP,
    JOIN,
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
from changewright.music.promise import Lands, Leaps, Promise, Stays, Steps
from changewright.theory.pitch import Degree

__all__ = ["FAMILY"]

_UP = ("1357", "3571", "5713", "7135")
_DOWN = ("7531", "5317", "3175", "1753")
_BROKEN = ("1537", "3157", "1735", "5173")
_ALL = tuple("".join(p) for p in permutations("1357"))
_SETS = {"root": (_UP[0], _DOWN[0]), "turned": _UP + _DOWN, "broken": _BROKEN, "mixed": _ALL}


def _same_order(move: Move) -> Mask:
    return (move.after["kind"] == move.before["kind"]) & (move.now["vary"] == 1)


def _same_notes(move: Move) -> Mask:
    return (move.after["first"] == move.before["first"]) & (move.now["nth"] > 0) & _same(move)


def _same(move: Move) -> Mask:
    return move.after["last"] == move.before["last"]


def _turns_round(move: Move) -> Weights:
    return np.where(move.after["rises"] != move.before["rises"], 0.7, 0.0)


def _central(move: Move) -> Weights:
    return -0.06 * move.after["far"].astype(float)


def _near(move: Move) -> Weights:
    return np.where(np.abs(move.after["first"] - move.before["last"]) <= 2, 1.6, 0.0)


def _restful(move: Move) -> Weights:
    return np.where(move.after["rest"] == move.now["close"], 1.5, 0.0)


VARIED = Rule("order changes", _same_order, blame=0.5, repair="repeat the order")
NEW_NOTES = Rule("not the same bar twice", _same_notes, blame=0.5, repair="repeat the bar")
GRAMMAR = Grammar(
    (RANGE, AWKWARD, INNER_LEAP, JOIN, SAME_TWICE, VARIED, NEW_NOTES),
    (
        SMALL_JOIN,
        Preference("joined by step", _near),
        Preference("direction alternates", _turns_round),
        Preference("near the middle", _central, single=True),
        Preference("long chords come to rest", _restful, single=True),
    ),
)


def plan(ground: Ground, _dice: Random) -> Plan:
    """One order after another, each joined to the next by the smallest step there is."""
    cells = tuple(_cells(ground))
    kind = ground.level.setting("reordered", "orders", "turned")
    facts = {"join": _join(ground), "vary": int(kind == "mixed")}
    slots, choices = figure_slots(
        ground,
        cells,
        lambda cell: _figures(ground, cell),
        lambda cell: {**facts, "close": _close(cell), "opens": int(cell is cells[0])},
    )
    return Plan(
        Trellis(GRAMMAR, slots),
        write_figures(cells, choices),
        lambda notes: _promises(ground, cells, notes),
        _INSTRUCTIONS[kind if not ground.fallback else ground.fallback],
        _REMARKS[ground.fallback],
    )


def _join(ground: Ground) -> int:
    join: int = ground.level.setting("reordered", "join", ground.level.widest_leap)
    return join


def _close(cell: Patch) -> int:
    return int(cell.nth > 0 and not cell.more and cell.length >= 4)


def _unit(ground: Ground, patch: Patch) -> Quarters:
    unit = Fraction(ground.level.setting("reordered", "unit", "1"))
    if patch.length >= 4 * unit:
        return unit
    able = [v for v in ground.level.note_values if v * 4 <= patch.length]
    return max(able, default=ground.level.shortest)


def _cells(ground: Ground) -> Iterator[Patch]:
    """Cut the chords into groups of four notes, or fewer where there is no room."""
    for patch in ground.patches:
        group = 4 * _unit(ground, patch)
        at, count = patch.start, patch.nth * max(1, int(patch.length // group))
        while at < patch.end:
            rest = patch.end - at
            end = patch.end if rest < 2 * group else at + group
            more = patch.more or end < patch.end
            yield replace(patch, start=at, end=end, nth=count, more=more)
            at, count = end, count + 1


def _figures(ground: Ground, cell: Patch) -> list[Figure]:
    names = _orders(ground)
    if names == _SETS["root"] and cell.start == ground.patches[0].start:
        names = names[:1]
    timings = list(_timings(ground, cell, min(len(names[0]), len(cell.chord.four))))
    found: list[Figure] = []
    for name in names:
        for stack in _stacks(ground, cell, name):
            far = abs(sum(m for _, m in stack) // len(stack) - ground.middle)
            found += [
                scored(f"{name}{rest}", stack[: len(timing)], timing, far=far, rest=rest)
                for rest, timing in timings
            ]
    return found


def _orders(ground: Ground) -> tuple[str, ...]:
    if ground.fallback == "triads":
        return ("135", "531")
    if ground.fallback == "inverted":
        return _SETS["turned"]
    return _SETS[ground.level.setting("reordered", "orders", "turned")]


def _stacks(ground: Ground, cell: Patch, name: str) -> Iterator[list[tuple[Degree, int]]]:
    """The order's notes at every octave within reach."""
    chord = cell.chord
    tones = {"1357"[i]: (d, chord.tone(d).pc) for i, d in enumerate(chord.four)}
    if len(tones) < 4:
        name = "".join(c for c in name if c in tones)
    low_first = name if name in _UP else name[::-1] if name in _DOWN else "".join(sorted(name))
    row = [tones[c] for c in low_first]
    for low in ground.reach:
        if low % 12 == row[0][1]:
            placed = dict(zip(low_first, rising(row, low), strict=True))
            if all(midi in ground.reach for _, midi in placed.values()):
                yield [placed[c] for c in name]


def _timings(ground: Ground, cell: Patch, tones: int) -> Iterator[tuple[int, Timing]]:
    """Without a rest at the end (0), and with one (1) where a long chord ends."""
    unit, length = _unit(ground, cell), cell.length
    count = min(tones, max(1, int(length // unit)))
    last = length - unit * (count - 1)
    yield 0, timed(*_evenly(ground, unit, count, length))
    if _close(cell) and count >= 3:
        kept = count - 1 if last <= unit else count
        over = length - unit * (kept - 1) - 1
        if over > 0:
            yield 1, timed(*(unit,) * (kept - 1), over)


def _evenly(ground: Ground, unit: Quarters, count: int, length: Quarters) -> tuple[Quarters, ...]:
    """One note a unit and the last held; where the level has no such value (four notes in three
    beats), the shorter ones first and none longer than need be."""
    last = length - unit * (count - 1)
    values = ground.level.note_values
    if last in values or length % 1 or length > 4:
        return (*(unit,) * (count - 1), last)
    fits = [row for row in combinations_with_replacement(values, count) if sum(row) == length]
    return min(fits, key=max, default=(*(unit,) * (count - 1), last))


def _promises(
    ground: Ground, cells: Sequence[Patch], notes: tuple[Note, ...]
) -> tuple[Promise, ...]:
    promises: list[Promise] = []
    nearest = _join(ground) <= 4
    for cell in cells:
        degrees = cell.chord.four
        promises.append(Stays(cell.start, cell.end, degrees))
        promises.append(Leaps(cell.start, cell.end, ground.level.widest_leap))
        if cell.nth == 0:
            promises.append(Lands(cell.start, degrees))
        if cell.start > notes[0].onset:
            promises.append(Steps(cell.start, _join(ground)))
    return tuple(promises) if nearest else tuple(p for p in promises if _kept(p))


def _kept(promise: Promise) -> bool:
    return not isinstance(promise, Steps) or promise.most <= 7


_INSTRUCTIONS = {
    "root": "The four notes of each chord from the root up or from the seventh down.",
    "turned": "The four notes of each chord, up or down, from whichever note is next.",
    "broken": "The four notes of each chord in a broken order: over a neighbour and back.",
    "mixed": "The four notes of each chord, every bar in another order.",
    "triads": "The three notes of each chord from the root up or from the fifth down.",
    "inverted": "The four notes of each chord, up or down, from whichever lies in your range.",
}
_REMARKS: dict[str, tuple[str, ...]] = {
    "": (),
    "triads": ("Your range has no room for the sevenths yet.",),
    "inverted": ("Your range has no room for every chord from its root yet.",),
}

FAMILY = Family(
    id="reordered",
    title="Chord tones in another order",
    since=1,
    about="the four notes of each chord turned, broken or mixed, joined closely",
    plan=plan,
    fallbacks=("", "triads", "inverted"),
)
