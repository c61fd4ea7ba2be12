"""The starting shelf: generic, rights-free progressions, each with an invented title.

Source of the progressions: common practice; the rows of the domain reference's forms table.
"""

from functools import cache
from importlib.resources import files

from changewright.chart.chart import Chart
from changewright.chart.reader import read_chart
from changewright.errors import UnknownName

__all__ = ["shelf", "shelf_chart"]


@cache
def shelf() -> tuple[str, ...]:
    """The names of the charts on the shelf, in alphabetical order."""
    names = (entry.name for entry in files("changewright.chart.shelf").iterdir())
    return tuple(sorted(name[:-4] for name in names if name.endswith(".txt")))


@cache
def shelf_chart(name: str) -> Chart:
    """Take one chart off the shelf; raises :class:`UnknownName` with the names that are there."""
    if name not in shelf():
        raise UnknownName("chart on the shelf", name, shelf())
    text = files("changewright.chart.shelf").joinpath(f"{name}.txt").read_text("utf-8")
    return read_chart(text, f"{name}.txt")
