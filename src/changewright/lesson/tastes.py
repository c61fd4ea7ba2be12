"""Rules and tastes of melodic lines, note by note, shared by all families that write lines.

Weights are set by hand against published figures of 456 transcribed solos: steps 57 % of moves,
thirds 27 %, wider 12 %, repeats 4 %; 42 % of moves turn; leaps are followed by a turn in 64 %.
Source: aggregate figures of the Weimar Jazz Database (ODbL). Students' lines are asked to be
smoother than that: turns at most .42, leaps at most 6 %, recovered by step in at least .85.
"""

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import cast

import numpy as np

from changewright.line.grammar import Grammar, Mask, Move, Preference, Rule, Weights
from changewright.line.slot import Floats, Ints

__all__ = [
    "AWKWARD",
    "CARE",
    "ENTRY",
    "FIGURE",
    "LEAP",
    "LINE",
    "POOL",
    "RANGE",
    "TARGET",
    "Contour",
]

_WIDEST = 7
_LONGEST = 5


@dataclass(frozen=True, slots=True)
class Contour:
    """Remember the last interval (semitones, clipped to a fifth) and how many moves in a row went
    its way (0 after a repeated note or a rest, at most 4)."""

    @property
    def codes(self) -> int:
        """Fifteen intervals by five run lengths."""
        return (2 * _WIDEST + 1) * _LONGEST

    def begin(self, size: int) -> Ints:
        """No interval yet."""
        return np.full(size, _WIDEST * _LONGEST, dtype=np.int64)

    def advance(self, move: Move) -> Ints:
        """The interval just made, and the run it is part of."""
        if move.now["fresh"]:
            return np.full_like(_interval(move), _WIDEST * _LONGEST)
        return cast(Ints, _codes()[move.memory, np.clip(_interval(move), -12, 12)])


@cache
def _codes() -> Ints:
    """The code after every code and every move of up to an octave, in a table."""
    interval, last, run = _every()
    step = np.clip(interval, -_WIDEST, _WIDEST)
    on = (np.sign(step) == np.sign(last)) & (step != 0)
    run = np.where(on, np.minimum(run + 1, _LONGEST - 1), (step != 0).astype(np.int64))
    return (step + _WIDEST) * _LONGEST + run


def _every() -> tuple[Ints, Ints, Ints]:
    """Every move of up to an octave (a negative one counts from the end, as an index does), and
    the last interval and the run of every code: shapes (1, 25) and (75, 1) twice."""
    interval = (np.arange(25) + 12) % 25 - 12
    code = np.arange((2 * _WIDEST + 1) * _LONGEST)[:, None]
    return interval[None, :], code // _LONGEST - _WIDEST, code % _LONGEST


def _interval(move: Move) -> Mask:
    return move.after["pitch"] - move.before["pitch"]


def _outside(move: Move) -> Mask:
    return move.after["outside"] > 0


def _awkward(move: Move) -> Mask:
    return move.after["awkward"] > 0


def _not_in_pool(move: Move) -> Mask:
    return move.after["pool"] == 0


def _not_the_target(move: Move) -> Mask:
    return (move.after["target"] == 0) & (move.now["target"] == 1)


def _leaps(move: Move) -> Mask:
    most = 12 if move.now["fresh"] else move.now["leap"]
    return np.abs(_interval(move)) > most


def _not_entered(move: Move) -> Mask:
    return (np.abs(_interval(move)) > move.now["entry"]) & (move.now["entry"] < 99)


def _breaks_figure(move: Move) -> Mask:
    return (move.before["pitch"] != move.after["after"]) & (move.now["figure"] == 1)


def _held_care(move: Move) -> Mask:
    hangs = move.now["long"] or move.now["ends"]
    return (move.after["care"] == 1) & (hangs == 1)


RANGE = Rule("range", _outside, True, blame=6.0, repair="let a note leave the range")
AWKWARD = Rule("awkward notes", _awkward, True, blame=3.0, repair="allow an awkward note")
POOL = Rule("notes allowed", _not_in_pool, True, blame=4.0, repair="allow a note from outside")
TARGET = Rule("target", _not_the_target, True, blame=5.0, repair="give the target up")
CARE = Rule("care note held", _held_care, True, blame=1.0, repair="hold a note of care")
LEAP = Rule("widest leap", _leaps, blame=2.0, repair="allow a wider leap")
ENTRY = Rule("entered by step", _not_entered, blame=2.0, repair="enter the target by a skip")
FIGURE = Rule("figure", _breaks_figure, blame=4.0, repair="leave the figure out")

_BY_SIZE = np.array([-2.6, 0.25, 0.25, -0.6, -0.8, -2.6, -3.4, -3.0, -3.6, -3.8, -4.0, -4.2, -3.8])


def _shape(move: Move) -> Weights:
    """What a line likes of its moves, one after another; the sum of the tastes below.

    They read nothing but the move, the one before and how long it has gone that way, so they are
    looked up in a table.
    """
    now = move.now
    table = _shapes(bool(now["fresh"]), now["running"], now.get("bold", 0))
    return table[move.memory, np.clip(_interval(move), -12, 12)]


@lru_cache(maxsize=64)
def _shapes(fresh: bool, running: int, bold: int) -> Floats:
    step, last, run = _every()
    sizes = _sizes(step, bold) * (0.4 if fresh else 1.0)
    again = _hammers(step, last, run, running) + _recovers(step, last)
    return sizes + _runs(step, last, run) + _oscillates(step, last, run) + again


def _sizes(step: Ints, bold: int) -> Floats:
    size = np.abs(step)
    return cast(Floats, _BY_SIZE[size] + bold / 10 * (size >= 5))


def _runs(step: Ints, last: Ints, run: Ints) -> Floats:
    """Reward runs up to four moves, tire of longer ones."""
    turns = (np.sign(step) == -np.sign(last)) & (step != 0) & (last != 0)
    on = (np.sign(step) == np.sign(last)) & (step != 0)
    early = np.where(turns & (run < 3), -0.9, 0.0)
    return early + np.where(on & (run >= 4), -0.7, 0.0) + np.where(on & (run < 4), 0.3, 0.0)


def _oscillates(step: Ints, last: Ints, run: Ints) -> Floats:
    """A move straight back, and still less one back and forth again (a-b-a-b)."""
    back = (step == -last) & (step != 0)
    return np.where(back, -1.6, 0.0) + np.where(back & (run == 1), -1.2, 0.0)


def _hammers(step: Ints, last: Ints, run: Ints, running: int) -> Floats:
    """A note comes again, best after a long one; hardly ever in running notes."""
    again = step == 0
    thrice = again & (last == 0) & (run == 0)
    return cast(Floats, np.where(thrice, -1.0, 0.0) - 0.9 * running * again)


def _recovers(step: Ints, last: Ints) -> Floats:
    """A leap of a fourth or more is followed by a step back."""
    wide = np.abs(last) >= 5
    back = (np.sign(step) == -np.sign(last)) & (np.abs(step) <= 2) & (step != 0)
    return np.where(wide & back, 1.2, 0.0) + np.where(wide & ~back, -4.0, 0.0)


def _strong(move: Move) -> Weights:
    return np.where(move.after["tone"] == 1, 0.9, 0.0) * move.now["strong"]


def _cadence(move: Move) -> Weights:
    """A phrase ends on a chord tone, best on the third or root."""
    return np.where(move.after["tone"] == 1, 2.5, 0.0) * move.now["ends"]


def _care(move: Move) -> Weights:
    return np.where(move.after["care"] == 1, -0.8, 0.0)


def _crosses(move: Move) -> Weights:
    """A beginner's fingers don't jump a register break in a hurry, and not gladly at all."""
    if "cross0" not in move.now:
        return 0.0
    low = np.minimum(move.before["pitch"], move.after["pitch"])
    high = np.maximum(move.before["pitch"], move.after["pitch"])
    pair = low * 128 + high
    found = np.zeros(pair.shape)
    for name in ("cross0", "cross1", "cross2", "cross3"):
        if name in move.now:
            found = np.where(pair == move.now[name], 1.0, found)
    return -(2.0 + 5.0 * (move.now["running"] > 0)) * found


LINE = Grammar(
    (RANGE, AWKWARD, POOL, TARGET, CARE, LEAP, ENTRY, FIGURE),
    (
        Preference("shape", _shape),
        Preference("no quick crossing", _crosses),
        Preference("chord tones on strong beats", _strong, single=True),
        Preference("phrases close", _cadence, single=True),
        Preference("care notes pass", _care, single=True),
    ),
    Contour(),
)
"""The grammar of melodic lines."""
