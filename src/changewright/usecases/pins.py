"""Pin a bar of a chart to the key in which its author hears it."""

from dataclasses import replace

from changewright.chart.chart import Chart
from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.errors import InputError
from changewright.theory.key import Key
from changewright.usecases.charts import parse_key

__all__ = ["pin_bar"]


def pin_bar(text: str, bar: int, key: str) -> str:
    """The chart's text with a played bar pinned to a key, or without a pin where ``key`` is empty.

    The text comes back in its canonical form. Raises an :class:`InputError` for a chart that can't
    be read, a bar that isn't played, and a key that is none.
    """
    chart = read_chart(text, "chart")
    index = _written(chart, bar)
    pin = parse_key(key) if key else None
    bars = list(chart.bars)
    bars[index] = replace(bars[index], pin=pin)
    return write_chart(replace(chart, bars=tuple(bars)))


def _written(chart: Chart, bar: int) -> int:
    """The index of the bar as written that is played as this number: with that one pinned and no
    other, the pin must lie there."""
    start = next((b.start for b in unroll(chart).bars if b.number == bar), None)
    if start is None:
        raise InputError(f"no bar {bar} is played", remedy="Choose one from the reading.")
    plain = [replace(one, pin=None) for one in chart.bars]
    for index, one in enumerate(plain):
        trial = [*plain[:index], replace(one, pin=Key.parse("C")), *plain[index + 1 :]]
        pins = unroll(replace(chart, bars=tuple(trial))).pins
        if any(pin.start <= start < pin.end for pin in pins):
            return index
    raise InputError(f"bar {bar} can't be pinned", remedy="Write the pin into the text.")
