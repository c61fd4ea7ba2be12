"""Read a plain list: a symbol and its length in beats on each line, without bar lines.

That is how tables of changes are kept elsewhere. The list is laid out in bars of the heading's
meter; a chord that is longer than its bar goes on into the next, and the last bar is completed
with its last chord.
"""

import re
from collections.abc import Iterator
from fractions import Fraction

from changewright.chart.chart import MOST_WRITTEN
from changewright.chart.source import Source
from changewright.chart.written import WrittenBar, WrittenChord
from changewright.errors import ChordError
from changewright.music.bar import Meter
from changewright.theory.key import Key

__all__ = ["is_listing", "listed_bars"]

_LINE = re.compile(r"(?P<symbol>[A-GN]\S*?)(?:\s*[,;]\s*|\s+)(?P<beats>\d{1,6}(?:[./]\d{1,3})?)")
_ONE_CHORUS = "Write the chords of one chorus."
_FORMAT = "Write a symbol and its beats, like 'Dm7 2'; a chart with bar lines has | signs."


def is_listing(source: Source, line: int) -> bool:
    """Whether the lines from ``line`` on are a list; the first of them decides."""
    return _LINE.fullmatch(source.bare(line)) is not None


def listed_bars(source: Source, line: int, meter: Meter, key: Key | None) -> tuple[WrittenBar, ...]:
    """Lay out the list that begins at ``line``.

    Raises :class:`ChartError` for a line that isn't a symbol with its beats.
    """
    bars: list[WrittenBar] = []
    bar: list[WrittenChord] = []
    room = meter.length
    for number, chord in _chords(source, line, meter):
        left = chord.length
        while left:
            if len(bars) == MOST_WRITTEN:
                raise source.fault(f"more than {MOST_WRITTEN} bars", number, 1, remedy=_ONE_CHORUS)
            part = min(left, room)
            bar.append(WrittenChord(chord.text, part))
            left, room = left - part, room - part
            if not room:
                bars.append(WrittenBar(tuple(bar), meter, key))
                bar, room = [], meter.length
    if bar:
        bar[-1] = WrittenChord(bar[-1].text, bar[-1].length + room)
        bars.append(WrittenBar(tuple(bar), meter, key))
    return tuple(bars)


def _chords(source: Source, line: int, meter: Meter) -> Iterator[tuple[int, WrittenChord]]:
    for number in range(line, len(source.lines) + 1):
        bare = source.bare(number)
        if not bare or bare.startswith("#"):
            continue
        match = _LINE.fullmatch(bare)
        beats = Fraction(0) if match is None else _beats(match["beats"])
        if match is None or not beats:
            raise source.fault(f"can't read {bare[:40]!r}", number, 1, remedy=_FORMAT)
        try:
            yield number, WrittenChord(match["symbol"], beats * meter.beat)
        except ChordError as error:
            raise source.fault(error.what, number, 1, remedy=error.remedy) from None
        except ValueError:
            raise source.fault(f"can't read {bare[:40]!r}", number, 1, remedy=_FORMAT) from None


def _beats(text: str) -> Fraction:
    """Beats as typed; 0 for what is no length."""
    try:
        return Fraction(text)
    except ZeroDivisionError:
        return Fraction(0)
