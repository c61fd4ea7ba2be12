"""Lay a take on the chorus: remove the constant lag, follow drift, notice a lost bar.

The play-along's clock is known; what is not known is how late the recording is as a whole, and
whether the player kept the form.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from changewright.ear._grid import heard_grid, written_grid
from changewright.ear.take import Take
from changewright.music.clock import Clock
from changewright.music.sheet import Sheet

__all__ = ["Placement", "Slip", "place"]

Floats = NDArray[np.float64]

KERNEL_S = 0.025
NEAR_S = 0.6
LEAST_SUPPORT = 0.35
MOST_BEATS = 8  # two bars of four: further away is another chorus
SWITCH_COST = 6.0
SLIP_GAIN = 7.0
SLIP_COST = 0.5
MOST_RUN, MOST_RUN_BEATS, RUNS_CLEARLY = 0.03, 2.0, 1.3
"""A steady rush or drag is looked for up to this share of the tempo and so many beats, and believed
where so many times as many notes agree. Source: measured on development seeds: a chorus played 2 %
fast makes twice as many agree, a lost bar none more."""


@dataclass(frozen=True, slots=True)
class Slip:
    """From ``bar`` up to ``until`` (inclusive) the player was ``beats`` ahead in the form (+), or
    behind (-). ``gain`` says how much better the take fits there, in half beats of sound."""

    bar: int
    until: int
    beats: int
    gain: float


@dataclass(frozen=True, slots=True)
class Placement:
    """Where the take lies on the chorus.

    ``offset_s`` is added to the clock: device latency and the player's usual place together;
    ``from_count_in`` is the part measured from the backing, None where it was not given.
    ``support`` is the share of written notes found there. ``first_bar`` and ``last_bar`` are the
    first and last bars in which the player is heard; None if in none. ``shifts`` has one entry a
    bar, in beats.
    """

    offset_s: float
    from_count_in: float | None
    support: float
    shifts: tuple[int, ...]
    slips: tuple[Slip, ...]
    first_bar: int | None
    last_bar: int | None


def place(take: Take, sheet: Sheet, clock: Clock, *, latency_s: float | None = None) -> Placement:
    """Find the take's constant offset from the clock and where in the form the player was.

    ``latency_s`` is the lag of the recording where the count-in told it (see
    :func:`changewright.ear.lag.lag_of`); the player's own lateness is then looked for close to
    it. Without it the offset is what most notes agree on.
    """
    offset, support = _offset(take, sheet, clock, latency_s)
    written = written_grid(sheet)
    heard = heard_grid(_steadied(take, sheet, clock, offset), sheet, clock, offset)
    shifts = _shifts(written, heard, sheet)
    heard_bars = [
        b.number for b, on in zip(sheet.bars, _bars_with_sound(heard, sheet), strict=True) if on
    ]
    slips = _slips(written, heard, sheet, shifts)
    kept = _kept(shifts, slips, sheet)
    return Placement(
        offset_s=offset,
        from_count_in=latency_s,
        support=support,
        shifts=kept,
        slips=slips,
        first_bar=heard_bars[0] if heard_bars else None,
        last_bar=heard_bars[-1] if heard_bars else None,
    )


def _offset(take: Take, sheet: Sheet, clock: Clock, latency_s: float | None) -> tuple[float, float]:
    """The lag on which most pairs of written and heard notes of one pitch class agree."""
    written = [
        (clock.to_seconds(n.onset), n.pitch.midi % 12) for n in sheet.line.notes if not n.blank
    ]
    heard = [(n.onset_s, n.pc, n.confidence) for n in take.notes]
    start = latency_s or 0.0
    lags = [(h - w, c) for w, wp in written for h, hp, c in heard if wp == hp]
    if not lags or len(written) < 3:
        return start, 0.0
    at = np.array([lag for lag, _ in lags])
    weight = np.array([c for _, c in lags])
    density = _density(at, at, weight)
    near = np.abs(at - start) < (0.2 if latency_s is not None else NEAR_S)
    prior = np.exp(-np.abs(at - start) / 2.0)
    best = int(np.argmax(np.where(near, density * prior, 0)))
    if not near.any() or density[best] < LEAST_SUPPORT * density.max():
        best = int(np.argmax(density * np.exp(-np.abs(at - start) / 30)))
    close = np.abs(at - at[best]) < 0.08
    return float(np.median(at[close])), min(1.0, float(density[best]) / len(written))


def _steadied(take: Take, sheet: Sheet, clock: Clock, offset: float) -> Take:
    """The take with a steady rushing or dragging taken out of its times, where that makes clearly
    more notes agree: who runs away by a beat over a chorus has not lost one."""
    written = [
        (clock.to_seconds(n.onset), n.pitch.midi % 12) for n in sheet.line.notes if not n.blank
    ]
    pairs = [
        (w, n.onset_s - w - offset, n.confidence)
        for w, pc in written
        for n in take.notes
        if n.pc == pc and abs(n.onset_s - w - offset) < MOST_RUN_BEATS * clock.quarter_s
    ]
    if not pairs:
        return take
    at, lag, weight = (np.array(x) for x in zip(*pairs, strict=True))
    begin, length = clock.to_seconds(sheet.bars[0].start), float(at.max() - at.min())
    if length * MOST_RUN < KERNEL_S:
        return take
    slopes = np.linspace(-MOST_RUN, MOST_RUN, 2 * int(MOST_RUN * length / KERNEL_S) + 1)
    spread = MOST_RUN * (length + 1)
    edges = np.arange(lag.min() - spread, lag.max() + spread + KERNEL_S, KERNEL_S / 2)
    agreeing, places = [], []
    for slope in slopes:
        counts, _ = np.histogram(lag - slope * (at - begin), edges, weights=weight)
        smooth = np.convolve(counts, np.ones(4), "same")
        agreeing.append(float(smooth.max()))
        places.append(float(edges[int(smooth.argmax())]))
    best = int(np.argmax(agreeing))
    if agreeing[best] < RUNS_CLEARLY * agreeing[len(slopes) // 2]:
        return take
    slope, place = float(slopes[best]), places[best]

    def steady(second: float) -> float:
        return begin + offset + (second - begin - offset - place) / (1 + slope)

    notes = tuple(
        replace(n, onset_s=steady(n.onset_s), end_s=steady(n.end_s))
        for n in take.notes
        if steady(n.onset_s) >= 0
    )
    return replace(take, notes=notes)


def _density(points: Floats, at: Floats, weight: Floats) -> Floats:
    """How many lags agree with each, counted through a narrow bell; in pieces, to bound memory."""
    out = np.zeros(len(at))
    for k in range(0, len(at), 512):
        gap = at[k : k + 512, None] - points[None, :]
        out[k : k + 512] = (np.exp(-0.5 * (gap / KERNEL_S) ** 2) * weight).sum(axis=1)
    return out


def _fits(written: Floats, heard: Floats, sheet: Sheet) -> Floats:
    """How well each bar of sound (rows) fits the form so many beats ahead (columns)."""
    beats = range(-MOST_BEATS, MOST_BEATS + 1)
    base = sheet.bars[0].start
    table = np.zeros((len(sheet.bars), len(beats)))
    for row, bar in enumerate(sheet.bars):
        first, last = int(2 * (bar.start - base)), int(2 * (bar.end - base))
        for column, beat in enumerate(beats):
            low, high = max(0, first + 2 * beat), min(len(written), last + 2 * beat)
            if high > low:
                sound = heard[low - 2 * beat : high - 2 * beat]
                table[row, column] = float((sound * written[low:high]).sum())
    return table


def _shifts(written: Floats, heard: Floats, sheet: Sheet) -> list[int]:
    """The best path through the bars: changing place costs, and so does being out of place."""
    fits = _fits(written, heard, sheet)
    away = np.abs(np.arange(-MOST_BEATS, MOST_BEATS + 1)) > 0
    score = np.where(away, -SWITCH_COST, 0.0)
    back: list[NDArray[np.int64]] = []
    for row in fits:
        top = int(score.argmax())
        moved = score[top] - SWITCH_COST
        back.append(np.where(moved > score, top, np.arange(len(score))))
        score = np.maximum(score, moved) + row - SLIP_COST * away
    state = int(score.argmax())
    path = []
    for step in reversed(back):
        path.append(state - MOST_BEATS)
        state = int(step[state])
    return path[::-1]


def _slips(written: Floats, heard: Floats, sheet: Sheet, shifts: Sequence[int]) -> tuple[Slip, ...]:
    """Stretches out of place, if the sound fits there by far better than where it should be."""
    fits = _fits(written, heard, sheet)
    slips = []
    row = 0
    while row < len(shifts):
        stop = row
        while stop < len(shifts) and shifts[stop] == shifts[row]:
            stop += 1
        beats = shifts[row]
        gain = float((fits[row:stop, beats + MOST_BEATS] - fits[row:stop, MOST_BEATS]).sum())
        if beats and gain >= SLIP_GAIN:
            slips.append(Slip(sheet.bars[row].number, sheet.bars[stop - 1].number, beats, gain))
        row = stop
    return tuple(slips)


def _kept(shifts: Sequence[int], slips: Sequence[Slip], sheet: Sheet) -> tuple[int, ...]:
    told = {
        bar.number: slip.beats
        for slip in slips
        for bar in sheet.bars
        if slip.bar <= bar.number <= slip.until
    }
    return tuple(told.get(bar.number, 0) for bar in sheet.bars[: len(shifts)])


def _bars_with_sound(heard: Floats, sheet: Sheet) -> list[bool]:
    base = sheet.bars[0].start
    return [
        bool(heard[int(2 * (b.start - base)) : int(2 * (b.end - base))].sum() > 0.5)
        for b in sheet.bars
    ]
