"""How fast a band is composed: two choruses of blues, and eight of a 32-bar form."""

from collections.abc import Iterable

from benchmarks.figure import Figure, core_ms
from changewright.band.accompany import accompany
from changewright.chart.model import form_of
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.key import Key

__all__ = ["blues", "figures"]

_BPM = 140.0


def blues() -> Reading:
    """Twelve bars with a turnaround."""
    symbols = (
        *(("F7", 4), ("Bb7", 4), ("F7", 4), ("Cm7", 2), ("F7", 2)),
        *(("Bb7", 4), ("B°7", 4), ("F7", 4), ("D7", 4)),
        *(("Gm7", 4), ("C7", 4), ("F7", 2), ("D7", 2), ("Gm7", 2), ("C7", 2)),
    )
    return analyse(form_of(symbols, Key.parse("F")))


def figures() -> Iterable[Figure]:
    """Seconds of music composed in a second of one core: bass, comping, drums and count-in."""
    reading = blues()
    for name, choruses in (("band.x_realtime", 3), ("band.long_x_realtime", 40)):
        seeds = iter(range(10_000))
        length_s = accompany(reading, bpm=_BPM, choruses=choruses).length_s

        def compose(count: int = choruses, fresh: Iterable[int] = seeds) -> object:
            return accompany(reading, bpm=_BPM, choruses=count, seed=next(iter(fresh)))

        yield Figure(name, length_s * 1000 / core_ms(compose, 5), "x")
