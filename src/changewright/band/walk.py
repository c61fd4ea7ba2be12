"""The craft of a bass line as rules and tastes over the composing engine.

A slot is one note; its choices are the pitches that fit there, its columns their ``pitch`` and
``kind``. Source of the rules: common practice, as in free walking-bass hand-outs (roots or strong
chord tones at changes, approach by semitone, step or fifth, direction kept); the weights are set
so that arrivals spread as in 9,490 measured ones (Jazz Trio Database, automatic tracking): a
semitone in 41 %, a whole tone in 16 %, a fourth or fifth in 21 %.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from changewright.line.grammar import Grammar, Move, Preference, Rule
from changewright.line.slot import Bools, Floats, Ints

__all__ = ["BASS_GRAMMAR", "BASS_HIGH", "BASS_LOW", "Kind"]

BASS_LOW, BASS_HIGH = 28, 50
"""E1, the lowest string, to D3. Source: domain reference 7.4: E1-G2 mostly, up to D3."""


class Kind(IntEnum):
    """What a note is to its chord."""

    ROOT = 0
    THIRD = 1
    FIFTH = 2
    SEVENTH = 3
    SCALE = 4
    CHROMATIC = 5


_STILL, _UP, _DOWN, _BEGUN, _TURNED_UP, _TURNED_DOWN = range(6)


@dataclass(frozen=True, slots=True)
class _Heading:
    """Remember where the line is heading, and whether it has only just turned there."""

    codes: int = 6

    def begin(self, size: int) -> Ints:
        return np.full(size, _BEGUN, dtype=np.int64)

    def advance(self, move: Move) -> Ints:
        step, rose, fell = _step(move), _rose(move), _fell(move)
        up = np.where(fell, _TURNED_UP, _UP)
        down = np.where(rose, _TURNED_DOWN, _DOWN)
        heading: Ints = np.where(step == 0, _STILL, np.where(step > 0, up, down))
        return heading


def _rose(move: Move) -> Bools:
    found: Bools = (move.memory == _UP) | (move.memory == _TURNED_UP)
    return found


def _fell(move: Move) -> Bools:
    found: Bools = (move.memory == _DOWN) | (move.memory == _TURNED_DOWN)
    return found


def _step(move: Move) -> Ints:
    return move.after["pitch"] - move.before["pitch"]


def _leaps_too_far(move: Move) -> Bools:
    size = np.abs(_step(move))
    found: Bools = (size > 9) & (size != 12)
    return found


def _octave_without_cause(move: Move) -> Bools:
    """An octave is a root played again, not a way to get somewhere."""
    found: Bools = (np.abs(_step(move)) == 12) & (move.before["kind"] != Kind.ROOT)
    return found


def _hangs(move: Move) -> Bools:
    """A chromatic note goes on by semitone, a scale note by step."""
    size = np.abs(_step(move))
    chromatic = (move.before["kind"] == Kind.CHROMATIC) & (size != 1)
    scale = (move.before["kind"] == Kind.SCALE) & ((size > 2) | (size == 0))
    found: Bools = chromatic | scale
    return found


def _leaps_out(move: Move) -> Floats:
    """A passing note is passed through: a leap into one is heard as a wrong chord."""
    passing = (move.after["kind"] == Kind.SCALE) | (move.after["kind"] == Kind.CHROMATIC)
    far = np.maximum(np.abs(_step(move)) - 2, 0)
    return np.asarray(-0.9 * np.minimum(far, 3) * passing, dtype=np.float64)


def _thrice(move: Move) -> Bools:
    walking = bool(move.now.get("walks"))
    found: Bools = (_step(move) == 0) & (move.memory == _STILL) & walking
    return found


def _arrives(move: Move) -> Floats:
    """How a new chord is reached."""
    if move.now.get("stays"):
        return np.asarray(1.5 * (_step(move) == 0), dtype=np.float64)
    if not move.now.get("change"):
        return np.zeros(np.broadcast_shapes(move.after["pitch"].shape, move.memory.shape))
    weights = np.array([-1.4, 2.1, 0.5, 0.6, 0.1, 1.0, -1.2, 0.6, -1.6, -2.0, -2.0, -2.0, -0.8])
    return np.asarray(weights[np.minimum(np.abs(_step(move)), 12)], dtype=np.float64)


def _moves_on(move: Move) -> Floats:
    """Steps and thirds inside a bar; a held note only rarely."""
    if move.now.get("change") or move.now.get("stays"):
        return np.zeros(np.broadcast_shapes(move.after["pitch"].shape, move.memory.shape))
    weights = np.array([-2.2, 0.6, 0.9, 0.5, 0.4, 0.0, -1.5, -0.3, -1.0, -1.2, -2.0, -2.0, -1.2])
    return np.asarray(weights[np.minimum(np.abs(_step(move)), 12)], dtype=np.float64)


def _heads_on(move: Move) -> Floats:
    """A direction is kept for a bar or two; after a leap the line turns back."""
    step, rose, fell = _step(move), _rose(move), _fell(move)
    turned = (move.memory == _TURNED_UP) | (move.memory == _TURNED_DOWN)
    on = (rose & (step > 0)) | (fell & (step < 0))
    back = (rose & (step < 0)) | (fell & (step > 0))
    return np.asarray(0.6 * on - 0.4 * back - 1.7 * (back & turned), dtype=np.float64)


def _speaks(move: Move) -> Floats:
    """Roots first at a change, less often in front of those who know the form, and often where a
    chord goes on into a bar; strong chord tones on strong beats."""
    kind = move.after["kind"]
    if move.now.get("change") and move.now.get("known"):
        table = np.array([2.7, 0.5, 0.3, -1.0, -9.0, -9.0])
    elif move.now.get("change"):
        table = np.array([4.4, 0.2, 0.0, -1.5, -9.0, -9.0])
    elif move.now.get("first"):
        table = np.array([1.5, 0.6, 0.7, -0.2, -0.8, -4.0])
    elif move.now.get("strong"):
        table = np.array([0.3, 0.8, 0.8, 0.0, -0.8, -4.0])
    else:
        table = np.array([-0.1, 0.5, 0.5, 0.2, 0.0, -0.5])
    return np.asarray(table[kind], dtype=np.float64)


BASS_GRAMMAR = Grammar(
    rules=(
        Rule("leap of a sixth at most, or an octave", _leaps_too_far, repair="allow wider leaps"),
        Rule("an octave leaves from a root", _octave_without_cause, repair="allow octaves"),
        Rule("passing notes go on by step", _hangs, repair="let a passing note leap"),
        Rule("a note sounds twice at most", _thrice, remembers=True, repair="repeat a note"),
    ),
    preferences=(
        Preference("arrival", _arrives),
        Preference("motion", _moves_on),
        Preference("heading", _heads_on),
        Preference("passing", _leaps_out),
        Preference("chord tones", _speaks, single=True),
    ),
    memory=_Heading(),
)
"""What a bass line must and should do, whatever the feel."""
