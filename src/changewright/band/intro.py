"""Intros: the end of the form, a turnaround that waits, or the drums alone.

Source: domain reference 7.7, common practice, no source.
"""

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, get_args

from changewright.band.practice import excerpt
from changewright.band.song import home_of
from changewright.chart.model import form_of
from changewright.errors import InputError
from changewright.music.bar import Quarters
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.pitch import Interval
from changewright.theory.symbols import write_symbol

__all__ = ["MOST_INTRO_BARS", "Intro", "IntroKind", "intro_before", "intro_of", "read_intro"]

IntroKind = Literal["last", "vamp", "drums"]
MOST_INTRO_BARS = 16
"""The longest intro: nobody waits longer for the top."""

_USUAL_BARS = 4
_WRITTEN = re.compile(r"\s*(?:([a-z]+)(?:\s*:\s*(\d{1,3}))?|(\d{1,3}))\s*", re.IGNORECASE)
_SILENT = "N.C."


@dataclass(frozen=True, slots=True)
class Intro:
    """What comes before the first chorus: the ``last`` bars of the form, a ``vamp`` on the
    turnaround I-VI-ii-V, or ``drums`` alone. Raises :class:`InputError` for too many bars."""

    kind: IntroKind
    bars: int = _USUAL_BARS

    def __post_init__(self) -> None:
        if not 1 <= self.bars <= MOST_INTRO_BARS:
            raise InputError(
                f"an intro of {self.bars} bars can't be played",
                remedy=f"Ask for 1 to {MOST_INTRO_BARS} bars.",
            )


def read_intro(text: str) -> Intro:
    """Read ``4``, the last four bars; ``vamp``, ``drums``, or with their bars ``drums:8``.

    Raises :class:`InputError`.
    """
    match = _WRITTEN.fullmatch(text)
    if match is not None and match[3]:
        return Intro("last", int(match[3]))
    for kind in get_args(IntroKind):
        if match is not None and match[1].lower() == kind:
            return Intro(kind, int(match[2] or _USUAL_BARS))
    raise InputError(
        f"can't read the intro {text!r}",
        remedy="Write a number for the form's last bars, or vamp, or drums, like drums:8.",
    )


def intro_of(asked: Intro, reading: Reading) -> Reading:
    """An intro to a chorus, as a reading of its own in the key and meter that the chorus begins in.

    Raises :class:`InputError` for more last bars than the form has.
    """
    if asked.kind == "last":
        return _last(reading, asked.bars)
    meter = reading.bars[0].meter
    if asked.kind == "drums":
        return analyse(form_of([(_SILENT, meter.beats)] * asked.bars, reading.key, meter))
    symbols = _turnaround(reading)
    half = meter.beats // 2
    if meter.beats % 2 or (half % 3 and meter.unit == 8):
        bars = [[(symbols[n % 4], meter.beats)] for n in range(asked.bars)]
    else:
        pairs = [[(one, half) for one in symbols[:2]], [(one, half) for one in symbols[2:]]]
        bars = [pairs[n % 2] for n in range(asked.bars)]
    return analyse(form_of([one for bar in bars for one in bar], reading.key, meter))


def intro_before(intro: Reading | None, first: Reading) -> Quarters:
    """How many quarters an intro begins before the chorus's quarter 0: its own length, less a
    pickup, which lies under its end."""
    if intro is None:
        return Fraction(0)
    pickup = first.bars[0].length if first.bars[0].number == 0 else Fraction(0)
    return intro.bars[-1].end - intro.bars[0].start - pickup


def _last(reading: Reading, bars: int) -> Reading:
    last = reading.bars[-1].number
    if bars > last:
        raise InputError(
            f"an intro of {bars} bars doesn't fit a form of {last} bars",
            remedy=f"Play the last 1 to {last} bars.",
        )
    found = excerpt(reading, last - bars + 1, last, lead_in=False)
    return replace(found, bars=tuple(replace(bar, label="") for bar in found.bars))


def _turnaround(reading: Reading) -> list[str]:
    """Four chords that lead to the top: in major the second a dominant, in minor half-diminished
    ones as the melodic and natural minor have them."""
    key, whole = reading.key, Fraction(0)
    home = write_symbol(home_of(reading, whole, whole).chord)
    six, two, five = (key.tonic + Interval.parse(name) for name in ("M6", "M2", "P5"))
    if key.mode == "minor":
        return [home, f"{six}m7b5", f"{two}m7b5", f"{five}7b9"]
    return [home, f"{six}7", f"{two}m7", f"{five}7"]
