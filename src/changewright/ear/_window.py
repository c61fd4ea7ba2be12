"""How far from its place a note may start and still be in time."""

from dataclasses import dataclass

from changewright.music.clock import Clock

__all__ = ["Window", "window_of"]


@dataclass(frozen=True, slots=True)
class Window:
    """Seconds. ``onset_s``: inside it a note counts as in time. ``fault_s``: only beyond it is a
    note called late; between the two it is counted, not criticised. ``early_s``: a note may
    come an eighth early (an anticipation is right) before it is called early. ``reach_s``: further
    away it is another note."""

    onset_s: float
    fault_s: float
    early_s: float
    reach_s: float


def window_of(level: int, clock: Clock) -> Window:
    """The windows of a level at a tempo.

    60 ms or 15 % of a beat at levels 1 to 3, 50 ms or 12 % at 4 and 5, 45 ms or 12 % above,
    whichever is more; Source: common practice, no source. The fault adds what the listener itself
    may be off (measured: benchmarks/bench_ear.py).
    """
    beat = clock.quarter_s
    floor, share = ((0.06, 0.15), (0.05, 0.12), (0.045, 0.12))[(level > 3) + (level > 5)]
    onset = max(floor, share * beat)
    fault = max(onset + 0.08, 0.25 * beat)
    eighth = beat * max(0.5, 1 - clock.offbeat) if clock.swing_ratio == 1 else beat * 0.5
    return Window(onset, fault, eighth + fault, 1.25 * beat)
