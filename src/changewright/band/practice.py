"""Forms of practice: a few bars round and round, trading, fewer players, ladders of tempo.

Each works on whole values, so they combine: the bass alone of a loop at a rising tempo. A tune
slowed down is played anew at the slower tempo, never stretched.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain

from changewright.band.accompany import accompany
from changewright.band.clocks import Clocks, clocks_of
from changewright.band.feel import PIECES, Feel
from changewright.band.song import beat_lengths
from changewright.errors import InputError, UnknownName
from changewright.music.bar import Bar, Change, Quarters
from changewright.music.clock import Clock, Seconds
from changewright.music.performance import Event, Part, Performance
from changewright.reading.model import Reading

__all__ = [
    "MOST_RUNGS",
    "Ladder",
    "Rung",
    "Window",
    "click",
    "excerpt",
    "joined",
    "only",
    "tagged",
    "tempi",
    "tempo_ladder",
    "trade_windows",
    "traded",
]

MOST_RUNGS = 400
"""The most tempi of one ladder."""

_CLICK, _CLICK_VELOCITY = PIECES["cross-stick"], 84


def excerpt(reading: Reading, first: int, last: int, lead_in: bool = True) -> Reading:
    """Bars ``first`` to ``last`` of a chorus, to be played as a chorus of their own.

    With a ``lead_in`` the bar before (for the first bar, the form's last) is played ahead of
    them each time round, so that the player enters in time. Bars keep their numbers. Raises
    :class:`InputError` for bars that the form doesn't have.
    """
    numbers = [bar.number for bar in reading.bars if bar.number > 0]
    if not numbers[0] <= first <= last <= numbers[-1]:
        raise InputError(
            f"there are no bars {first} to {last} in a form of {numbers[-1]} bars",
            remedy=f"Give two bar numbers from {numbers[0]} to {numbers[-1]}, the lower first.",
        )
    wanted = [*range(first, last + 1)]
    if lead_in:
        wanted.insert(0, first - 1 if first > numbers[0] else numbers[-1])
    return _gathered(reading, wanted)


def _gathered(reading: Reading, numbers: Sequence[int]) -> Reading:
    bars, changes = [], []
    at = Fraction(0)
    for number in numbers:
        bar = next(b for b in reading.bars if b.number == number)
        moved = _moved(bar, at - bar.start)
        own = [read for read in reading.changes if read.bar == number]
        changes += [replace(r, change=c) for r, c in zip(own, moved.changes, strict=True)]
        bars.append(moved)
        at = moved.end
    return Reading(reading.title, reading.key, tuple(bars), tuple(changes))


def _moved(bar: Bar, by: Quarters) -> Bar:
    changes: tuple[Change, ...] = tuple(replace(c, onset=c.onset + by) for c in bar.changes)
    return replace(bar, start=bar.start + by, changes=changes)


def only(performance: Performance, *names: str) -> Performance:
    """The same performance with fewer players, such as ``only(band, "count-in", "bass")``.

    Raises :class:`UnknownName` for a part that nobody plays.
    """
    known = [part.name for part in performance.parts]
    for name in names:
        if name not in known:
            raise UnknownName("part", name, known)
    return replace(performance, parts=tuple(p for p in performance.parts if p.name in names))


def tagged(reading: Reading, bars: int, times: int = 2) -> tuple[Reading, ...]:
    """A chorus with a tag: its last bars are played ``times`` more. One reading each time round.

    Raises :class:`InputError` for a tag longer than the chorus.
    """
    last = reading.bars[-1].number
    if not 1 <= bars <= last:
        raise InputError(
            f"a tag of {bars} bars doesn't fit a form of {last} bars",
            remedy=f"Tag the last 1 to {last} bars.",
        )
    return (reading, *(excerpt(reading, last - bars + 1, last, lead_in=False),) * times)


def click(
    reading: Reading | Sequence[Reading],
    clock: Clock,
    choruses: int = 1,
    beats: Iterable[int] = (2, 4),
    intro: Reading | None = None,
    before: Quarters = Fraction(0),
) -> Part:
    """A click on some beats of every bar, 2 and 4 unless told: the part ``click``. An ``intro``
    begins ``before`` quarter 0."""
    wanted, events = set(beats), []
    early = [] if intro is None else [(b.start - before, b) for b in intro.bars]
    for bar_start, bar in [*early, *_all_bars(reading, choruses)]:
        at = bar_start
        for beat, length in enumerate(beat_lengths(bar.meter, bar.length), start=1):
            if beat in wanted:
                events.append(
                    Event(clock.to_seconds(at), 0.1, PIECES["cross-stick"], _CLICK_VELOCITY)
                )
            at += length
    return Part("click", 32, tuple(events), is_drums=True)


@dataclass(frozen=True, slots=True)
class Window:
    """Whose turn it is while trading: from a bar line to a bar line, in quarters from the first
    downbeat. ``early`` is how much before it a pickup may begin."""

    start: Quarters
    end: Quarters
    early: Quarters
    is_open: bool


def trade_windows(
    reading: Reading | Sequence[Reading], every: int = 4, choruses: int = 1
) -> tuple[Window, ...]:
    """The turns of a trade in order, the model first; a pickup bar belongs to the first turn."""
    if every < 1:
        raise ValueError("trade one bar or more at a time")
    found: list[Window] = []
    count = 0
    for start, bar in _all_bars(reading, choruses):
        is_open = count // every % 2 == 1
        if found and found[-1].is_open == is_open:
            found[-1] = replace(found[-1], end=start + bar.length)
        else:
            early = beat_lengths(bar.meter, bar.length)[0] * Fraction(3, 4)
            found.append(Window(start, start + bar.length, early, is_open))
        count += bar.number > 0
    return tuple(found)


def traded(
    line: Part,
    reading: Reading | Sequence[Reading],
    clock: Clock,
    every: int = 4,
    choruses: int = 1,
) -> Part:
    """Trading: the line is heard for ``every`` bars and then leaves as many open, in turn.

    A note belongs to the bar it begins in; one on the last offbeat of a bar leads into the next
    and belongs there.
    """
    heard = [
        (clock.to_seconds(w.start - w.early), clock.to_seconds(w.end - w.early))
        for w in trade_windows(reading, every, choruses)
        if not w.is_open
    ]
    kept = (e for e in line.events if any(a < e.onset_s < b for a, b in heard))
    return replace(line, events=tuple(kept))


def _all_bars(reading: Reading | Sequence[Reading], choruses: int) -> list[tuple[Quarters, Bar]]:
    readings = (reading,) if isinstance(reading, Reading) else tuple(reading)
    found = []
    at = Fraction(0)
    for number, one in enumerate(readings * choruses):
        for bar in one.bars:
            if number == 0 or bar.number > 0:
                found.append((at, bar))
                at += bar.length
    return found


@dataclass(frozen=True, slots=True)
class Rung:
    """One step of a ladder: where it begins, its tempo, and the clocks it is played and judged
    by, which count from ``start_s``."""

    start_s: Seconds
    bpm: float
    clocks: Clocks


@dataclass(frozen=True, slots=True)
class Ladder:
    """A performance that climbs, and its rungs."""

    performance: Performance
    rungs: tuple[Rung, ...]


def tempo_ladder(
    reading: Reading | Sequence[Reading],
    *,
    start_bpm: float,
    stop_bpm: float,
    step_bpm: float,
    feel: Feel | str = "swing",
    choruses: int = 2,
    seed: int = 0,
    level: int = 4,
    swing: float = 1.0,
) -> Ladder:
    """Play at ``start_bpm``, then ``step_bpm`` faster (or slower) until ``stop_bpm``, a number of
    choruses at each, every tempo counted in. Each rung is played anew by its own seed. Raises
    :class:`InputError` for steps that don't arrive."""
    steps = tempi(start_bpm, stop_bpm, step_bpm)
    played, rungs = [], []
    meter = (reading if isinstance(reading, Reading) else reading[0]).bars[0].meter
    for number, bpm in enumerate(steps):
        played.append(
            accompany(
                reading,
                bpm=bpm,
                feel=feel,
                choruses=choruses,
                seed=seed + number,
                level=level,
                swing=swing,
                ending="stop" if number == len(steps) - 1 else "none",
            )
        )
        start_s = sum(one.length_s for one in played[:-1])
        rungs.append(Rung(start_s, bpm, clocks_of(feel, bpm, meter, swing=swing)))
    return Ladder(joined(played), tuple(rungs))


def tempi(start_bpm: float, stop_bpm: float, step_bpm: float) -> list[float]:
    """The tempi of a ladder, up or down; raises :class:`InputError` for steps that don't
    arrive."""
    leads = (stop_bpm - start_bpm) * step_bpm >= 0 and step_bpm != 0
    rungs = 1 + int(abs(stop_bpm - start_bpm) / abs(step_bpm) + 1e-9) if leads else 0
    if not 1 <= rungs <= MOST_RUNGS:
        raise InputError(
            f"steps of {step_bpm:g} don't lead from {start_bpm:g} to {stop_bpm:g}",
            remedy=f"Give a step that gets there in {MOST_RUNGS} tempi at most.",
        )
    return [start_bpm + k * step_bpm for k in range(rungs)]


def joined(performances: Sequence[Performance]) -> Performance:
    """One performance after the other, parts of the same name joined."""
    starts = [sum(p.length_s for p in performances[:k]) for k in range(len(performances))]
    names = dict.fromkeys(chain.from_iterable((p.name for p in one.parts) for one in performances))
    return Performance(
        tuple(_joined(name, performances, starts) for name in names),
        sum(one.length_s for one in performances),
    )


def _joined(name: str, performances: Sequence[Performance], starts: Sequence[Seconds]) -> Part:
    events: list[Event] = []
    own: Part | None = None
    for one, start in zip(performances, starts, strict=True):
        for part in one.parts:
            if part.name == name:
                own = own or part
                events += [replace(e, onset_s=e.onset_s + start) for e in part.events]
    if own is None:
        raise ValueError(f"nobody plays {name!r}")
    return replace(own, events=tuple(sorted(events)))
