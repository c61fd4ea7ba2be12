"""Open a chart: a file of the user's, or one of the shelf by its name."""

from pathlib import Path

from changewright.chart.chart import Chart
from changewright.chart.load import load_chart
from changewright.chart.model import Form
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError, Place
from changewright.theory.key import Key

__all__ = ["open_chart", "open_form", "parse_key"]


def open_chart(source: str, key: str | None = None) -> Chart:
    """Read a chart from a file, or from the shelf where no such file exists.

    ``key`` moves it; raises an :class:`InputError` that says where the chart stops making sense.
    """
    path = Path(source)
    if path.exists():
        chart = load_chart(path)
    elif source in shelf():
        chart = shelf_chart(source)
    else:
        raise InputError(
            "there is no such file, and no chart of that name on the shelf",
            where=Place(file=source),
            remedy=f"The shelf has: {', '.join(shelf())}.",
        )
    return chart if key is None else transpose_chart(chart, parse_key(key))


def open_form(source: str, key: str | None = None) -> Form:
    """Read a chart and unroll it as played."""
    return unroll(open_chart(source, key))


def parse_key(text: str) -> Key:
    """Read a key as a user types it; raises :class:`InputError`."""
    try:
        return Key.parse(text)
    except ValueError as fault:
        raise InputError(
            f"can't read the key {text!r}", remedy="Write it like F, Bb, C#m or 'E flat major'."
        ) from fault
