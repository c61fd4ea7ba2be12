"""From notated strokes to sounding events: the hands of a player.

Timing and dynamics vary a little, from the seed alone, so that a band is alive and can be played
again.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from random import Random

from changewright.music.bar import Quarters
from changewright.music.clock import Clock
from changewright.music.performance import Event

__all__ = ["Hit", "Touch", "performed"]

_FARTHEST_MS = 12.0  # two players are then never farther apart than listeners accept
_SHORTEST_S = 0.03


@dataclass(frozen=True, slots=True, order=True)
class Hit:
    """One stroke as notated. ``force`` runs from 0, barely heard, to 1, an accent."""

    onset: Quarters
    duration: Quarters
    midi: int
    force: float = 0.6


@dataclass(frozen=True, slots=True)
class Touch:
    """How steady a player is and where he places his time.

    ``spread_ms`` is the standard deviation of onsets, ``late_ms`` how far behind the beat he plays
    on average (negative: ahead). ``soft`` and ``loud`` are the velocities of force 0 and 1.
    Source: spread 5-8 ms, asynchronies under 19 ms, hi-hat foot 2-26 ms ahead: Hofmann, Wesolowski
    and Goebl, Journal of New Music Research 46(4), 2017.
    """

    soft: int = 20
    loud: int = 100
    spread_ms: float = 4.0
    late_ms: float = 0.0
    short: float = 1.0


def performed(hits: Iterable[Hit], clock: Clock, touch: Touch, rng: Random) -> tuple[Event, ...]:
    """Strokes as events in order of onset. Strokes notated together stay together within a few
    milliseconds, as one hand would play them."""
    made = []
    sway: dict[Quarters, float] = {}
    for hit in sorted(hits):
        if hit.onset not in sway:
            sway[hit.onset] = _bounded(rng.gauss(0, touch.spread_ms))
        lean_s = (touch.late_ms + sway[hit.onset] + rng.uniform(-1, 1)) / 1000
        onset_s = max(clock.to_seconds(hit.onset) + lean_s, 0.0)
        written_s = clock.to_seconds(hit.onset + hit.duration) - clock.to_seconds(hit.onset)
        velocity = touch.soft + (touch.loud - touch.soft) * hit.force + rng.gauss(0, 2.5)
        made.append(
            Event(
                onset_s,
                max(written_s * touch.short, _SHORTEST_S),
                hit.midi,
                min(max(round(velocity), 1), 127),
            )
        )
    return tuple(sorted(made))


def _bounded(ms: float) -> float:
    return min(max(ms, -_FARTHEST_MS), _FARTHEST_MS)
