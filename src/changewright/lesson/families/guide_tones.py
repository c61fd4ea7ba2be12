"""Guide-tone lines: thirds and sevenths, moving by step or staying at every change.

Source: teaching practice. At a few changes no guide tone lies within a whole tone (I7
to VI7 in a blues, for one); there a third is allowed, and the page says where.
"""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from random import Random

import numpy as np

from changewright.lesson.family import Family, Plan
from changewright.lesson.figures import (
    AWKWARD,
    RANGE,
    SAME_TWICE,
    Figure,
    Tone,
    figure_slots,
    write_figures,
)
from changewright.lesson.ground import Ground, Patch
from changewright.line.conflict import Waiver
from changewright.line.grammar import Grammar, Mask, Move, Preference, Rule, Weights
from changewright.line.trellis import Trellis
from changewright.music.bar import Quarters
from changewright.music.line import Note, Role
from changewright.music.promise import Holds, Lands, Promise, Steps
from changewright.theory.pitch import Degree

__all__ = ["FAMILY"]


def _motion(move: Move) -> Mask:
    return np.abs(move.after["first"] - move.before["last"])


def _no_step(move: Move) -> Mask:
    return (_motion(move) > 2) & (move.now["nth"] == 0)


def _no_third(move: Move) -> Mask:
    return (_motion(move) > 4) & (move.now["nth"] == 0)


def _leaves(move: Move) -> Mask:
    return (_motion(move) > 0) & (move.now["nth"] > 0)


def _other_strand(move: Move) -> Mask:
    return (move.after["strand"] != move.now["strand"]) & (move.now["strand"] >= 0)


def _smaller_then_down(move: Move) -> Weights:
    rise = move.after["first"] - move.before["last"]
    return -1.0 * np.abs(rise) - 0.5 * (rise > 0)


def _first_order(move: Move) -> Weights:
    return np.where(move.after["strand"] == 2, -1.0, 0.0)


def _central(move: Move) -> Weights:
    return -0.03 * (move.after["far"] ** 2).astype(float)


def _at_rest(move: Move) -> Weights:
    return np.where(move.after["rest"] == move.now["close"], 1.2, 0.0)


STEP = Rule("step", _no_step, blame=1.0, repair="let the line move by a third")
THIRD = Rule("at most a third", _no_third, blame=3.0, repair="let the line leap")
STAY = Rule("one note a chord", _leaves, blame=2.0, repair="change the note within the chord")
STRAND = Rule("strand", _other_strand, True, blame=2.5, repair="start on the other strand")
GRAMMAR = Grammar(
    (RANGE, AWKWARD, STEP, THIRD, STAY, STRAND, SAME_TWICE),
    (
        Preference("the smaller step, then the falling", _smaller_then_down),
        Preference("thirds and sevenths first", _first_order, single=True),
        Preference("near the middle", _central, single=True),
        Preference("long chords come to rest", _at_rest, single=True),
    ),
)


def plan(ground: Ground, dice: Random) -> Plan:
    """A slow line of thirds and sevenths; each bar of a long chord in another rhythm."""
    strand = _strand(ground, dice)
    first = ground.patches[0]
    slots, choices = figure_slots(
        ground,
        ground.patches,
        lambda patch: tuple(_figures(ground, patch)),
        lambda patch: {
            "strand": strand if patch is first and len(first.chord.guide_tones) > 1 else -1,
            "close": int(patch.nth > 0 and not patch.more),
        },
    )
    trellis, wide = _with_exceptions(Trellis(GRAMMAR, slots))
    bars = sorted({slots[w.index].bar for w in wide})
    return Plan(
        trellis,
        write_figures(ground.patches, choices),
        lambda notes: tuple(_promises(ground, notes)),
        f"Start on the {('third', 'seventh')[strand]} and move by step, or stay, at every change.",
        (_exception(bars),) if bars else (),
    )


def _strand(ground: Ground, dice: Random) -> int:
    chosen = dice.randrange(2)
    if ground.variant:
        return FAMILY.variants.index(ground.variant)
    return 1 - chosen if ground.fallback else chosen


def _with_exceptions(trellis: Trellis) -> tuple[Trellis, frozenset[Waiver]]:
    conflict = trellis.conflict()
    if conflict is None or not conflict.repairs:
        return trellis, frozenset()
    waivers = conflict.repairs[0].waivers
    if any(w.rule != STEP.name for w in waivers):
        return trellis, frozenset()
    return trellis.waive(waivers), waivers


def _exception(bars: list[int]) -> str:
    *most, last = map(str, bars)
    places = f"bars {', '.join(most)} and {last}" if most else f"bar {last}"
    return f"Into {places} no guide tone lies within a step: a skip of a third is right there."


def _degrees(ground: Ground, patch: Patch) -> tuple[Degree, ...]:
    chord = patch.chord
    guide = chord.guide_tones or chord.four[-1:]
    if not ground.level.setting("guide-tones", "second_order", False) or not patch.read.scales:
        return guide
    scale = patch.read.scales[0]
    wanted = (Degree(9), Degree(13))
    names = {n for n in scale.scale.pcs if n not in {chord.tone(d).pc for d in scale.care}}
    return guide + tuple(d for d in wanted if chord.tone(d).pc in names and d not in guide)


def _figures(ground: Ground, patch: Patch) -> Iterator[Figure]:
    guide = patch.chord.guide_tones
    for degree in _degrees(ground, patch):
        strand = guide.index(degree) if degree in guide else 2 if guide else 0
        pc = patch.chord.tone(degree).pc
        for midi in ground.reach:
            if midi % 12 == pc:
                for kind, tones in _rhythms(ground, patch, degree, midi):
                    far = abs(midi - ground.middle)
                    rest = int(tones[-1].offset + tones[-1].duration < patch.length)
                    marks = (("strand", strand), ("far", far), ("rest", rest))
                    yield Figure(kind, tones, marks)


Rhythm = tuple[str, tuple[Tone, ...]]


def _rhythms(ground: Ground, patch: Patch, degree: Degree, midi: int) -> Iterator[Rhythm]:
    length, half = patch.length, patch.length / 2

    def guide(*timed: tuple[Quarters, Quarters]) -> tuple[Tone, ...]:
        return tuple(Tone(at, d, midi, degree, Role.GUIDE_TONE) for at, d in timed)

    if _decorated(ground) and length >= 4:
        quarter = Fraction(1)
        for name, to in _neighbours(patch, midi):
            across = Tone(length - 2, quarter, to[1], to[0], Role.SCALE_TONE, beside=midi)
            yield name, (*guide((Fraction(0), length - 2)), across, *guide((length - 1, quarter)))
    if ground.level.setting("guide-tones", "rhythm", False) and length >= 4:
        at = Fraction(3, 2)
        yield "pushed", guide((Fraction(0), at), (at, half - at), (half, half))
        yield "pushed and rest", guide((Fraction(0), at), (at, Fraction(1, 2)))
    yield "held", guide((Fraction(0), length))
    if patch.nth > 0 and length < 3:
        yield "held and rest", guide((Fraction(0), length - (1 if length >= 2 else Fraction(1, 2))))
    if patch.nth > 0 and length >= 3:
        yield "held and rest", guide((Fraction(0), length - 1))
        yield "twice", guide((Fraction(0), half), (half, half))
        yield "once and rest", guide((Fraction(0), half))


def _decorated(ground: Ground) -> bool:
    neighbour: bool = ground.level.setting("guide-tones", "neighbour", False)
    return neighbour


def _neighbours(patch: Patch, midi: int) -> Iterator[tuple[str, tuple[Degree, int]]]:
    """The scale's notes next above and below, as (degree, MIDI number)."""
    root = patch.chord.root
    if root is None or not patch.read.scales:
        return
    scale = patch.read.scales[0].scale
    if scale.root.pc != root.pc:
        return
    for name, way in (("upper neighbour", 1), ("lower neighbour", -1)):
        for size in (1, 2):
            pc = (midi + way * size - root.pc) % 12
            found = [d for d in scale.kind.degrees if d.pc == pc]
            if found:
                yield name, (found[0], midi + way * size)
                break


def _promises(ground: Ground, notes: tuple[Note, ...]) -> Iterator[Promise]:
    before = {b.onset: a for a, b in pairwise(notes)}
    on = {n.onset: n for n in notes}
    for patch in ground.patches:
        note = on[patch.start]
        yield Lands(patch.start, _degrees(ground, patch))
        if patch.start in before:
            size = abs(note.pitch.midi - before[patch.start].pitch.midi)
            yield Steps(patch.start, 2 if size <= 2 else 4)
        if note.duration * 2 >= patch.length:
            yield Holds(patch.start, patch.length / 2)


FAMILY = Family(
    id="guide-tones",
    title="Guide-tone line",
    since=1,
    about="thirds and sevenths, reached by step or repeated at every change",
    plan=plan,
    variants=("third", "seventh"),
    fallbacks=("", "other strand"),
)
