"""How far time swings: the published relation of ratio and tempo, and the clocks that follow it.

Source: tables/swing.tsv. Ride: medians of 1,010 trio tracks by tempo, Jazz Trio Database (MIT
licence; automatic annotation). They agree with Friberg and Sundström, Music Perception 19(3),
2002, 333-349: the ratio falls with tempo to 1:1, and the short note stays about 100 ms from medium
tempo on. Soloist: medians of 456 transcribed solos, Weimar Jazz Database (ODbL), aggregate figures.
"""

import csv
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np

from changewright.band.feel import Feel
from changewright.music.bar import Quarters
from changewright.music.clock import Clock

__all__ = ["Player", "clock_of", "swing_ratio"]

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


def clock_of(
    feel: Feel,
    bpm: float,
    lead_in: Quarters = Fraction(0),
    *,
    player: Player = "ride",
    swing: float = 1.0,
) -> Clock:
    """The clock that a feel is played by at a tempo: the band's, or the soloist's straighter one.

    The same clock judges a take.
    """
    ratio = swing_ratio(bpm, player, swing) if feel.swung else 1.0
    return Clock(bpm, round(ratio, 4), lead_in)
