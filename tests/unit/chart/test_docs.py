"""The page that describes the format is true: its examples are read and played here."""

import doctest
import re
from pathlib import Path

import pytest

from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.errors import ChartError
from changewright.music.bar import Bar

PAGE = Path(__file__).parents[3] / "docs" / "chart-format.md"
BLOCKS = re.findall(r"^```(\w+)\n(.*?)^```$", PAGE.read_text("utf-8"), re.MULTILINE | re.DOTALL)
CHARTS = [
    (text, *(BLOCKS[at + 1] if at + 1 < len(BLOCKS) else ("", "")))
    for at, (kind, text) in enumerate(BLOCKS)
    if kind == "chart"
]


def shown(bar: Bar) -> str:
    beats = [(bar.beat_of(change.onset), change.text) for change in bar.changes]
    return " ".join(text if beat == "1" else f"{text}({beat})" for beat, text in beats)


def played(text: str) -> str:
    bars = unroll(read_chart(text)).bars
    rows = [bars[i : i + 4] for i in range(0, len(bars), 4)]
    return "".join(f"{row[0].number:2} | {' | '.join(map(shown, row))}\n" for row in rows)


@pytest.mark.parametrize(("text", "kind", "follows"), CHARTS)
def test_every_example_is_read_as_the_page_says(text: str, kind: str, follows: str) -> None:
    if kind == "fault":
        with pytest.raises(ChartError) as caught:
            read_chart(text, "low-water.txt")
        assert str(caught.value) == follows.rstrip("\n")
        return
    chart = read_chart(text)
    assert read_chart(write_chart(chart)) == chart
    if kind == "played":
        assert played(text) == follows


def test_every_python_example_runs() -> None:
    failed, tried = doctest.testfile(str(PAGE), module_relative=False)
    assert (failed, tried > 8) == (0, True)


def test_the_page_shows_every_kind_of_line() -> None:
    page = PAGE.read_text("utf-8")
    lines = ("repeat", "ending 1", "end repeat", "vamp 4 times", "sign", "coda", "to coda")
    more = ("end here", "back to the sign, then the coda", "pickup 1", "meter 3/4", "key Ab")
    assert all(line in page for line in (*lines, *more))
