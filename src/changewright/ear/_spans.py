"""What instruments and voices are decided with: a note in ticks, and evidence that counts once."""

from dataclasses import dataclass

import numpy as np

from changewright.ear._sight import Floats

__all__ = ["APART", "Span", "peaks"]

APART = 4  # ticks, 46 ms: no player repeats a note faster


@dataclass(frozen=True, slots=True)
class Span:
    """One note in ticks, half-open, with its MIDI number in the take's tuning."""

    start: int
    stop: int
    midi: int


def peaks(evidence: Floats) -> Floats:
    """Keep only local maxima: one attack leaves its mark over several ticks and must count once."""
    from scipy.ndimage import maximum_filter1d

    return np.where(evidence >= maximum_filter1d(evidence, 2 * APART + 1, axis=0), evidence, 0)
