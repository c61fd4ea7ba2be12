"""Which heard note answers which written one: the cheapest alignment in order of time."""

from dataclasses import dataclass

import numpy as np

from changewright.ear.take import HeardNote

__all__ = ["Due", "align"]

MISS = 1.0
EXTRA = 0.9
OTHER_PITCH = 0.85
OTHER_OCTAVE = 0.05
NEAR_WORTH = 0.8  # what a whole reach of lateness costs


@dataclass(frozen=True, slots=True)
class Due:
    """A written note on the recording's clock, seconds."""

    onset_s: float
    end_s: float
    midi: int


def align(due: list[Due], heard: list[HeardNote], reach_s: float) -> list[int | None]:
    """For each written note the index of the heard note that answers it, or None.

    Dynamic programming over both lists in order; no pair lies further apart than ``reach_s``.
    A heard note of low confidence is cheap to leave out.
    """
    rows, columns = len(due), len(heard)
    cost = np.full((rows + 1, columns + 1), np.inf)
    step = np.zeros((rows + 1, columns + 1), dtype=np.int8)
    skip = np.concatenate([[0.0], np.cumsum([EXTRA * (0.2 + 0.8 * h.confidence) for h in heard])])
    cost[0] = skip
    step[0, 1:] = 2
    for i, note in enumerate(due, start=1):
        pairs = _pair_costs(note, heard, reach_s)
        cost[i, 0], step[i, 0] = i * MISS, 1
        for j in range(1, columns + 1):
            choices = (
                cost[i - 1, j - 1] + pairs[j - 1],
                cost[i - 1, j] + MISS,
                cost[i, j - 1] + skip[j] - skip[j - 1],
            )
            best = min(range(3), key=choices.__getitem__)
            cost[i, j], step[i, j] = choices[best], best
    return _walk_back(step, rows, columns)


def _pair_costs(note: Due, heard: list[HeardNote], reach_s: float) -> list[float]:
    found = []
    for h in heard:
        gap = abs(h.onset_s - note.onset_s)
        if gap > reach_s:
            found.append(np.inf)
            continue
        pitch = 0.0 if h.midi == note.midi else OTHER_PITCH
        if pitch and h.pc == note.midi % 12:
            pitch = OTHER_OCTAVE
        found.append(pitch + NEAR_WORTH * gap / reach_s)
    return found


def _walk_back(step: np.ndarray, rows: int, columns: int) -> list[int | None]:
    answers: list[int | None] = [None] * rows
    i, j = rows, columns
    while i > 0 or j > 0:
        move = step[i, j]
        if move == 0:
            answers[i - 1] = j - 1
            i, j = i - 1, j - 1
        elif move == 1:
            i -= 1
        else:
            j -= 1
    return answers
