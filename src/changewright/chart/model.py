"""A chart as played: the form, unrolled."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from changewright.music.bar import FOUR_FOUR, Bar, Change, Meter, Quarters
from changewright.music.line import Line
from changewright.theory.key import Key
from changewright.theory.scale import Scale
from changewright.theory.symbols import read_symbol

__all__ = ["Form", "Pin", "form_of"]


@dataclass(frozen=True, slots=True)
class Pin:
    """What the chart's author says of the reading in [start, end), in quarters from the start of
    the chorus: "this bar is in Ab" (``key``), or "use this scale here" (``scale``)."""

    start: Quarters
    end: Quarters
    key: Key | None = None
    scale: Scale | None = None


@dataclass(frozen=True, slots=True)
class Form:
    """One chorus as played: repeats taken, endings chosen, bars numbered from 1 (a pickup is 0).

    ``key`` is the written key or None where the chart names none. ``digest`` identifies the chart's
    canonical text and goes into every recipe. ``melody`` is at concert pitch. ``pins`` are the
    author's own readings. ``areas`` are the key signatures in force, each with its onset, the
    first at the start; empty where the chart names no key. ``rights`` is as the chart says.
    """

    title: str
    key: Key | None
    bars: tuple[Bar, ...]
    tempo_bpm: int = 120
    feel: str = "swing"
    digest: str = ""
    melody: Line | None = None
    pins: tuple[Pin, ...] = ()
    areas: tuple[tuple[Quarters, Key], ...] = ()
    rights: str = "unknown"

    @property
    def changes(self) -> tuple[Change, ...]:
        """All changes in order."""
        return tuple(change for bar in self.bars for change in bar.changes)

    @property
    def length(self) -> Quarters:
        """The chorus in quarters."""
        return self.bars[-1].end - self.bars[0].start


def form_of(
    symbols: Iterable[tuple[str, int | Fraction]],
    key: Key | None = None,
    meter: Meter = FOUR_FOUR,
    title: str = "untitled",
) -> Form:
    """Build a form from a plain list of symbols with their lengths in beats of the meter.

    A chord longer than what is left of a bar goes on into the next. The last bar is completed
    with its last chord.
    """
    events: list[tuple[Quarters, Quarters, str]] = []
    at = Fraction(0)
    for symbol, beats in symbols:
        length = beats * meter.beat
        events.append((at, at + length, symbol))
        at += length
    if not events:
        raise ValueError("a form has at least one chord")
    count = -(-at // meter.length)
    start, _, last = events[-1]
    events[-1] = (start, count * meter.length, last)
    bars = tuple(_bar(n, meter, events) for n in range(int(count)))
    return Form(title=title, key=key, bars=bars)


def _bar(index: int, meter: Meter, events: list[tuple[Quarters, Quarters, str]]) -> Bar:
    start, end = index * meter.length, (index + 1) * meter.length
    changes = tuple(
        Change(max(a, start), min(b, end) - max(a, start), read_symbol(symbol), symbol)
        for a, b, symbol in events
        if a < end and b > start
    )
    return Bar(index + 1, start, meter.length, meter, changes, source=index + 1)
