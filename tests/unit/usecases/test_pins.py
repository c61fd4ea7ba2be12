"""A bar is pinned where it is written, however often it is played."""

import pytest

from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.errors import InputError
from changewright.usecases.pins import pin_bar

TEXT = "title: Pins\nkey: C\n\n| Cmaj7 | Fm7 | Bb7 | Cmaj7 |\n"


def test_a_bar_is_pinned_and_let_go() -> None:
    pinned = pin_bar(TEXT, 2, "Ab")
    assert "Fm7 <in Ab>" in pinned
    bars = unroll(read_chart(pinned)).bars
    [pin] = unroll(read_chart(pinned)).pins
    assert (pin.start, pin.end, str(pin.key)) == (bars[1].start, bars[1].end, "Ab")
    assert pin_bar(pinned, 2, "") == write_chart(read_chart(TEXT))


@pytest.mark.parametrize("name", sorted(shelf())[::4])
def test_the_last_bar_that_is_played_is_found_where_it_is_written(name: str) -> None:
    """Repeats and jumps included: the pin lies over the bar that was asked for."""
    form = unroll(shelf_chart(name))
    last = form.bars[-1]
    pinned = unroll(read_chart(pin_bar(write_chart(shelf_chart(name)), last.number, "Gb")))
    assert any(p.start <= last.start < p.end and str(p.key) == "Gb" for p in pinned.pins)


@pytest.mark.parametrize(("bar", "key"), [(9, "F"), (0, "F"), (2, "H")])
def test_what_can_not_be_pinned_is_told(bar: int, key: str) -> None:
    with pytest.raises(InputError):
        pin_bar(TEXT, bar, key)
