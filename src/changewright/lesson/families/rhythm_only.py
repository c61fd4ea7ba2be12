"""Rhythm only: a rhythm of two bars, kept all the way, on one guide tone a chord.

Source: teaching practice.
"""

from dataclasses import replace
from random import Random

import numpy as np

from changewright.lesson.cells import Cell
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.lines import line_plan
from changewright.lesson.rhythm import Flow, compose_rhythm, onsets_of
from changewright.lesson.spots import Spot, spots_of
from changewright.lesson.tastes import AWKWARD, LEAP, POOL, RANGE, TARGET
from changewright.line.grammar import Grammar, Mask, Move, Preference, Rule, Weights
from changewright.music.promise import Keeps

__all__ = ["FAMILY"]


def _moves(move: Move) -> Mask:
    return (move.after["pitch"] != move.before["pitch"]) & (move.now["change"] == 0)


def _near(move: Move) -> Weights:
    return -0.6 * abs(move.after["pitch"] - move.before["pitch"]).astype(float)


STILL = Rule("one note a chord", _moves, blame=1.0, repair="change the note within the chord")
GRAMMAR = Grammar((RANGE, AWKWARD, POOL, TARGET, LEAP, STILL), (Preference("small moves", _near),))


def plan(ground: Ground, dice: Random) -> Plan:
    """Two bars of rhythm, repeated to the end of the form; the pitch hardly matters."""
    bars = ground.reading.bars
    rng = np.random.default_rng(dice.getrandbits(64))
    model = compose_rhythm(ground.level, bars[:2], {}, rng, Flow(0.5))
    cells: list[Cell] = [model[i % len(model)].fitted(bar.length) for i, bar in enumerate(bars)]
    timed = onsets_of(bars, cells)
    spots = [replace(s, fresh=False) for s in spots_of(ground, timed, "guide", again=False)]
    kept = [
        Keeps(bar.start, bar.end, tuple(s.at for s in spots if bar.start <= s.at < bar.end))
        for bar in bars
    ]
    told = "The rhythm is the exercise: learn the first two bars, then keep them going in time."
    return line_plan(ground, spots, told, kept, GRAMMAR, lambda i: _facts(spots, i))


def _facts(spots: list[Spot], index: int) -> dict[str, int]:
    changed = index == 0 or spots[index - 1].patch.chord != spots[index].patch.chord
    return {"change": int(changed)}


FAMILY = Family(
    id="rhythm-only",
    title="Rhythm only",
    since=2,
    about="a rhythm of two bars, quoted all the way, on one note a chord",
    plan=plan,
)
