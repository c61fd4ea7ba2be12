"""Unroll a chart as played: one chorus, a head, or the whole performance."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from hashlib import sha256
from itertools import islice
from typing import Literal

from changewright.chart.chart import Chart
from changewright.chart.model import Form, Pin
from changewright.chart.roads import MOST_PLAYED, walk
from changewright.chart.writer import write_chart
from changewright.chart.written import ScalePin, Sung, WrittenBar, WrittenChord
from changewright.errors import ChartError
from changewright.music.bar import Bar, Change, Quarters
from changewright.music.line import Line, Note
from changewright.theory.key import Key
from changewright.theory.scale import Scale, scale_kind

__all__ = ["Route", "digest_of", "unroll"]

Route = Literal["chorus", "head in", "head out", "whole"]
"""What to play: one chorus of the changes, a head, or everything from first to last bar."""

_Step = tuple[int, WrittenBar, bool]


def unroll(chart: Chart, route: Route = "chorus", choruses: int = 1) -> Form:
    """Play a chart through: take its repeats, choose its endings, number its bars.

    ``choruses`` is the number of solo choruses in the whole performance. The melody sounds in a
    chorus by itself and in the heads; over solos in the whole performance it rests. Raises
    :class:`ChartError` when the form would be longer than ``MOST_PLAYED`` bars.
    """
    steps = list(islice(_steps(chart, route, choruses), MOST_PLAYED + 1))
    if len(steps) > MOST_PLAYED:
        raise ChartError(
            f"{chart.title!r} lasts more than {MOST_PLAYED} bars when played",
            remedy="Take fewer repeats or choruses.",
        )
    bars = _bars(steps)
    return Form(
        title=chart.title,
        key=chart.key,
        bars=bars,
        tempo_bpm=chart.tempo_bpm,
        feel=chart.feel,
        digest=digest_of(chart),
        melody=_melody(steps, bars),
        pins=tuple(_pins(steps, bars)),
        areas=tuple(_areas(steps, bars)),
        rights=chart.rights,
    )


def digest_of(chart: Chart) -> str:
    """Name a chart by its contents: 16 hexadecimal digits of its canonical text's SHA-256."""
    return sha256(write_chart(chart).encode()).hexdigest()[:16]


def _steps(chart: Chart, route: Route, choruses: int) -> Iterator[_Step]:
    head_in, head_out = chart.head_in or chart.form, chart.head_out or chart.form
    solos = chart.solos or chart.form
    if route == "chorus":
        yield from _played(chart, solos, True)
    if route in ("head in", "whole"):
        yield from _played(chart, head_in, True)
    if route == "whole":
        for _ in range(choruses):
            yield from _without_pickup(_played(chart, solos, False))
    if route == "whole":
        yield from _without_pickup(_played(chart, head_out, True))
    elif route == "head out":
        yield from _played(chart, head_out, True)


def _played(chart: Chart, order: Sequence[str], sung: bool) -> Iterator[_Step]:
    road = _road(chart, order)
    bars = [bar for _, bar in road]
    return ((*road[i], sung) for i in walk(bars))


def _without_pickup(steps: Iterable[_Step]) -> Iterator[_Step]:
    return (step for step in steps if not step[1].pickup)


def _road(chart: Chart, order: Sequence[str]) -> list[tuple[int, WrittenBar]]:
    numbered = [(chart.number(i), bar) for i, bar in enumerate(chart.bars)]
    if not order:
        return numbered
    first = 1 if chart.has_pickup else 0
    begins = {bar.section: i for i, bar in enumerate(chart.bars) if bar.section}
    spans = {name: (begins[name], len(bars)) for name, bars in chart.sections.items()}
    opening = numbered[:first] if begins[order[0]] == first else []
    parts = (numbered[begin : begin + count] for begin, count in map(spans.__getitem__, order))
    return opening + [step for part in parts for step in part]


def _bars(steps: Sequence[_Step]) -> tuple[Bar, ...]:
    start, number = Fraction(0), 0 if steps[0][1].pickup else 1
    played = []
    for source, bar, _ in steps:
        changes = tuple(_changes(bar.chords, start))
        played.append(
            Bar(number, start, bar.length, bar.meter, changes, bar.section, source=source)
        )
        start, number = start + bar.length, number + 1
    return tuple(played)


def _changes(chords: Iterable[WrittenChord], onset: Quarters) -> Iterator[Change]:
    for chord in chords:
        yield Change(onset, chord.length, chord.chord, chord.text)
        onset += chord.length


def _pins(steps: Sequence[_Step], bars: Sequence[Bar]) -> Iterator[Pin]:
    for (_, written, _), bar in zip(steps, bars, strict=True):
        if written.pin is not None:
            yield Pin(bar.start, bar.end, key=written.pin)
        for chord, change in zip(written.chords, bar.changes, strict=True):
            if chord.scale is not None:
                yield Pin(change.onset, change.end, scale=_scale(chord.scale, chord))


def _scale(pin: ScalePin, chord: WrittenChord) -> Scale | None:
    root = pin.root or chord.chord.root
    return None if root is None else scale_kind(pin.kind).on(root)


def _areas(steps: Sequence[_Step], bars: Sequence[Bar]) -> Iterator[tuple[Quarters, Key]]:
    before = None
    for (_, written, _), bar in zip(steps, bars, strict=True):
        if written.key is not None and written.key != before:
            yield bar.start, written.key
        before = written.key


def _melody(steps: Sequence[_Step], bars: Sequence[Bar]) -> Line | None:
    notes: list[Note] = []
    for (_, written, sung), bar in zip(steps, bars, strict=True):
        if sung:
            _sing(notes, bar.start, written.melody)
    length = bars[-1].end
    return Line(tuple(notes), length) if any(step[1].melody for step in steps) else None


def _sing(notes: list[Note], onset: Quarters, melody: Iterable[Sung]) -> None:
    for piece in melody:
        before = notes[-1] if notes else None
        if piece.pitch is not None:
            goes_on = (
                piece.held
                and before is not None
                and (before.end, before.pitch.midi) == (onset, piece.pitch.midi)
            )
            if goes_on and before is not None:
                notes[-1] = replace(before, duration=before.duration + piece.length)
            else:
                notes.append(Note(onset, piece.length, piece.pitch))
        onset += piece.length
