"""Pitch classes by half beat: the coarse picture on which a lost bar shows."""

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from changewright.ear.take import Take
from changewright.music.clock import Clock
from changewright.music.sheet import Sheet

__all__ = ["heard_grid", "written_grid"]

Floats = NDArray[np.float64]
_CELL = Fraction(1, 2)


def written_grid(sheet: Sheet) -> Floats:
    """Share of each half quarter that each pitch class sounds, (cells, 12); blanks are empty."""
    base = sheet.bars[0].start
    grid = np.zeros((_cells(sheet), 12))
    for note in sheet.line.notes:
        if not note.blank:
            start, end = float(note.onset - base), float(note.end - base)
            _lay(grid, start, end, note.pitch.midi % 12, 1.0)
    return grid


def heard_grid(take: Take, sheet: Sheet, clock: Clock, offset_s: float) -> Floats:
    """The same picture of a take, each note weighed by its confidence."""
    base = float(sheet.bars[0].start)
    grid = np.zeros((_cells(sheet), 12))
    for note in take.notes:
        start = clock.to_quarters(note.onset_s - offset_s) - base
        end = clock.to_quarters(note.end_s - offset_s) - base
        _lay(grid, start, end, note.pc, note.confidence)
    return grid


def _cells(sheet: Sheet) -> int:
    return int(-(-sheet.length // _CELL))


def _lay(grid: Floats, start: float, end: float, pc: int, weight: float) -> None:
    first = max(0, int(2 * start))
    for cell in range(first, min(len(grid), int(2 * end) + 1)):
        share = min(end, (cell + 1) / 2) - max(start, cell / 2)
        if share > 0:
            grid[cell, pc] += 2 * share * weight
