"""Changes to play over, read by the real reader."""

from collections.abc import Iterable
from fractions import Fraction
from functools import cache

from changewright.chart.model import form_of
from changewright.music.bar import FOUR_FOUR, Meter
from changewright.music.performance import Event, Performance
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.key import Key

__all__ = ["BLUES", "MINOR", "STEADY", "TWO_FIVES", "bass_by_bar", "reading", "reading_in"]

BLUES = (
    *(("F7", 4), ("Bb7", 4), ("F7", 4), ("Cm7", 2), ("F7", 2)),
    *(("Bb7", 4), ("B°7", 4), ("F7", 4), ("D7", 4)),
    *(("Gm7", 4), ("C7", 4), ("F7", 2), ("D7", 2), ("Gm7", 2), ("C7", 2)),
)
MINOR = (("Cm6", 8), ("Fm7", 4), ("Dm7(b5)", 2), ("G7(b9)", 2))
TWO_FIVES = (("Dm7", 4), ("G7", 4), ("Cmaj7", 8))
STEADY = (("F7", 4), ("Bb7", 4), ("F7", 8))


@cache
def reading(symbols: tuple[tuple[str, int], ...] = BLUES, key: str = "F") -> Reading:
    return analyse(form_of(symbols, Key.parse(key)))


def reading_in(meter: Meter, symbols: Iterable[str] = ("F7", "Bb7", "Gm7", "C7")) -> Reading:
    return analyse(form_of([(s, meter.beats) for s in symbols], Key.parse("F"), meter))


def bass_by_bar(played: Performance, bpm: float, lead_in: Fraction) -> dict[int, list[Event]]:
    """The bass's events by bar of four quarters from 0, each within 20 ms of its beat."""
    found: dict[int, list[Event]] = {}
    for event in played.part("bass").events:
        quarter = (event.onset_s + 0.02) * bpm / 60 - float(lead_in)
        found.setdefault(int(quarter // FOUR_FOUR.length), []).append(event)
    return found
