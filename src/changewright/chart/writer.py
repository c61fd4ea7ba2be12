"""Write a chart as canonical text: one meaning, one text."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from changewright.chart.chart import Chart
from changewright.chart.written import Repeat, Sung, WrittenBar, WrittenChord
from changewright.music.bar import Quarters

__all__ = ["write_chart"]

_BARS_A_LINE = 4


def write_chart(chart: Chart) -> str:
    """Write a chart so that :func:`read_chart` gives the same chart back.

    Four bars a line; lines break where anything is marked. Comments are not kept.
    """
    return "\n".join((*_heading(chart), *_body(chart.bars))) + "\n"


def _heading(chart: Chart) -> Iterator[str]:
    yield f"title: {chart.title}"
    if chart.by:
        yield f"by: {chart.by}"
    if chart.key is not None:
        yield f"key: {chart.key}"
    yield f"meter: {chart.meter}"
    yield f"tempo: {chart.tempo_bpm}"
    yield f"feel: {chart.feel}"
    yield f"rights: {chart.rights}"
    orders = {
        "form": chart.form,
        "head in": chart.head_in,
        "solos": chart.solos,
        "head out": chart.head_out,
    }
    yield from (f"{name}: {' '.join(order)}" for name, order in orders.items() if order)


def _body(bars: Sequence[WrittenBar]) -> Iterator[str]:
    for start, stop in pairwise([*_breaks(bars), len(bars)]):
        yield from _marks_before(bars, start)
        yield from _line(bars, start, stop)
        yield from _marks_after(bars, stop - 1)


def _breaks(bars: Sequence[WrittenBar]) -> Iterator[int]:
    count = 0
    for index, bar in enumerate(bars):
        ends = index > 0 and next(_marks_after(bars, index - 1), None) is not None
        if index == 0 or ends or count == _BARS_A_LINE or any(_marks_before(bars, index)):
            yield index
            count = 0
        count += 0 if bar.pickup else 1


def _marks_before(bars: Sequence[WrittenBar], index: int) -> Iterator[str]:
    bar = bars[index]
    before = bars[index - 1] if index else bar
    if bar.pickup:
        yield f"\npickup {_number(bar.length / bar.meter.beat)}"
    if bar.section:
        yield f"\nsection {bar.section}"
    elif index == 0 and not bar.pickup:
        yield ""
    yield from (word for word in ("sign", "coda") if getattr(bar, word))
    if bar.key != before.key:
        yield f"key {bar.key}"
    if bar.meter != before.meter:
        yield f"meter {bar.meter}"
    if bar.opens is not None:
        yield _repeat(bar.opens)
    if bar.ending:
        yield "ending " + " and ".join(map(str, bar.ending))


def _repeat(repeat: Repeat) -> str:
    if repeat == Repeat():
        return "repeat"
    return f"{'vamp' if repeat.vamp else 'repeat'} {repeat.times} times"


def _marks_after(bars: Sequence[WrittenBar], index: int) -> Iterator[str]:
    bar = bars[index]
    if bar.closes:
        yield "end repeat"
    if bar.to_coda:
        yield "to coda"
    if bar.fine:
        yield "end here"
    if bar.jump is not None:
        yield f"back to the {bar.jump.to}" + (
            f", then the {bar.jump.then}" if bar.jump.then else ""
        )


def _line(bars: Sequence[WrittenBar], start: int, stop: int) -> Iterator[str]:
    cells = (_bar(bars[index - 1] if index else None, bars[index]) for index in range(start, stop))
    yield f"| {' | '.join(cells)} |"
    if any(bar.melody for bar in bars[start:stop]):
        yield f"melody | {' | '.join(_melody(bar) for bar in bars[start:stop])} |"


def _bar(before: WrittenBar | None, bar: WrittenBar) -> str:
    is_same = _is_same(before, bar)
    chords = "%" if is_same else " ".join(_chords(bar))
    is_said = is_same and before is not None and before.pin == bar.pin
    return chords if bar.pin is None or is_said else f"{chords} <in {bar.pin}>"


def _is_same(before: WrittenBar | None, bar: WrittenBar) -> bool:
    if before is None or bar.is_landing or before.pickup or before.meter != bar.meter:
        return False
    unpinned = bar.pin is None and before.pin is not None
    return before.chords == bar.chords and not unpinned


def _chords(bar: WrittenBar) -> Iterator[str]:
    lengths = [chord.length / bar.meter.beat for chord in bar.chords]
    is_shared = len(set(lengths)) == 1 and (len(lengths) == 1 or lengths[0].denominator == 1)
    for chord, beats in zip(bar.chords, lengths, strict=True):
        symbol = chord.text.replace("|", "\\")
        if is_shared:
            yield symbol
        elif all(length.denominator == 1 for length in lengths):
            yield " ".join((symbol, *"/" * (int(beats) - 1)))
        else:
            yield symbol if beats == 1 else f"{symbol}:{_number(beats)}"
        yield from _scale(chord)


def _scale(chord: WrittenChord) -> Iterator[str]:
    if chord.scale is not None:
        words = ("scale", chord.scale.root, chord.scale.kind)
        yield f"<{' '.join(str(word) for word in words if word is not None)}>"


def _melody(bar: WrittenBar) -> str:
    return " ".join(_sung(bar.melody, bar.meter.beat))


def _sung(melody: Iterable[Sung], beat: Quarters) -> Iterator[str]:
    last = Fraction(1)
    for piece in melody:
        beats = piece.length / beat
        sign = "~" if piece.held else str(piece.pitch or "-")
        yield sign if beats == last else f"{sign}:{_number(beats)}"
        last = beats


def _number(beats: Fraction) -> str:
    return str(beats)
