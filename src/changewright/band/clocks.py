"""How far time swings: the published relation of ratio and tempo, and the clocks that follow it.

Source: tables/swing.tsv. Ride: medians of 1,010 trio tracks by tempo, Jazz Trio Database (MIT
licence; automatic annotation). They agree with Friberg and Sundström, Music Perception 19(3),
2002, 333-349: the ratio falls with tempo to 1:1, and the short note stays about 100 ms from medium
tempo on. Soloist: medians of 456 transcribed solos, Weimar Jazz Database (ODbL), aggregate figures.
"""

import csv
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np

from changewright.band.feel import Feel
from changewright.band.feel import feel as feel_named
from changewright.music.bar import FOUR_FOUR, Meter, Quarters
from changewright.music.clock import Clock

__all__ = ["Clocks", "Player", "clocks_of", "swing_ratio"]

Player = Literal["ride", "soloist"]


@cache
def _table() -> dict[str, tuple[float, ...]]:
    text = files("changewright.band").joinpath("tables/swing.tsv").read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines(), delimiter="\t"))
    return {name: tuple(float(row[name]) for row in rows) for name in ("bpm", "ride", "soloist")}


def swing_ratio(bpm: float, player: Player = "ride", amount: float = 1.0) -> float:
    """Long to short of a pair of eighths at a tempo, for the ride or the soloist.

    ``amount`` is the teacher's slider: 0 is even, 1 as professionals play, 1.5 at most.
    """
    if not 0 <= amount <= 1.5:
        raise ValueError(f"an amount of swing lies between 0 and 1.5, not {amount}")
    table = _table()
    ratio = float(np.interp(bpm, table["bpm"], table[player]))
    return 1 + (ratio - 1) * amount


@dataclass(frozen=True, slots=True)
class Clocks:
    """The clocks of one performance: the band's, set by the ride, and the line's, straighter.

    The line's clock is the one that a take of the line is judged by.
    """

    band: Clock
    line: Clock


def clocks_of(
    feel: Feel | str,
    bpm: float,
    meter: Meter = FOUR_FOUR,
    *,
    count_in_bars: int = 1,
    before: Quarters = Fraction(0),
    swing: float = 1.0,
) -> Clocks:
    """The clocks of a feel at ``bpm`` quarters a minute, behind a count-in of whole bars and what
    is played ``before`` quarter 0: an intro.

    Time swings only where a beat is a quarter: 6/8 and its kin are even in themselves. Raises
    :class:`UnknownName` for a feel we don't have.
    """
    chosen = feel_named(feel) if isinstance(feel, str) else feel
    swings = chosen.swung and meter.unit in (2, 4)
    lead_in = meter.length * count_in_bars + before
    ride = swing_ratio(bpm, "ride", swing) if swings else 1.0
    soloist = swing_ratio(bpm, "soloist", swing) if swings else 1.0
    return Clocks(Clock(bpm, round(ride, 4), lead_in), Clock(bpm, round(soloist, 4), lead_in))
