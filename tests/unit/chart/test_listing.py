"""A plain list of symbols with beats is a chart too. Common practice, no source."""

from fractions import Fraction

import pytest

from changewright.chart.model import form_of
from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.errors import ChartError


def played(text: str) -> list[tuple[int, str, Fraction]]:
    form = unroll(read_chart(text))
    return [(bar.number, c.text, c.duration) for bar in form.bars for c in bar.changes]


def test_list_is_laid_out_in_bars() -> None:
    assert played("Dm7 2\nG7 2\nCmaj7 4\n") == [(1, "Dm7", 2), (1, "G7", 2), (2, "Cmaj7", 4)]


def test_long_chord_goes_on_into_the_next_bar_and_the_last_bar_is_completed() -> None:
    assert played("C7 6\nF7 1") == [(1, "C7", 4), (2, "C7", 2), (2, "F7", 2)]


@pytest.mark.parametrize("line", ["G7 1.5", "G7\t3/2", "G7,1.5", "G7 ; 3/2", "  G7 1.5  # so"])
def test_any_usual_separator_parts_symbol_and_beats(line: str) -> None:
    assert played(f"Dm7 2.5\n{line}") == [(1, "Dm7", Fraction(5, 2)), (1, "G7", Fraction(3, 2))]


def test_comma_inside_a_symbol_stays() -> None:
    assert played("G7(b9,#5) 4\nC 4") == [(1, "G7(b9,#5)", 4), (2, "C", 4)]


def test_heading_counts_for_a_list_as_well() -> None:
    chart = read_chart("title: Low Water\nkey: Cm\nmeter: 6/8\n\n# changes\nCm7 6\n\nN.C. 6")
    assert (chart.title, str(chart.key), str(chart.meter)) == ("Low Water", "Cm", "6/8")
    assert [bar.length for bar in chart.bars] == [3, 3]


def test_list_is_the_same_form_as_the_library_builds() -> None:
    symbols = [("Cm7", 15), ("F7", 1), ("Bbmaj7", 3), ("Bb6", 5), ("Cm7", 2)]
    text = "\n".join(f"{symbol} {beats}" for symbol, beats in symbols)
    assert unroll(read_chart(text)).changes == form_of(symbols).changes


def test_list_can_be_written_back_as_a_chart_with_bars() -> None:
    chart = read_chart("key: F\nF7 6\nBb7 2\nF7 8")
    assert read_chart(write_chart(chart)) == chart


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("Dm7 4\nG7 x", 2, "can't read 'G7 x'"),
        ("Dm7 4\nG7 0", 2, "can't read 'G7 0'"),
        ("Dm7 4\nG7 1/0", 2, "can't read 'G7 1/0'"),
        ("Dm7 4\n| G7 |", 2, "can't read '| G7 |'"),
        ("Dm7 4\nG% 4", 2, "can't read 'G% 4'"),
        ("Dm7 4\n\nGfoo 4", 3, "can't read the chord 'Gfoo'"),
        ("C7 4\nF7 999999", 2, "more than 2000 bars"),
        ("form: A A\nC7 4", 1, "the form line names sections"),
    ],
)
def test_fault_in_a_list_has_its_place(text: str, line: int, what: str) -> None:
    with pytest.raises(ChartError) as caught:
        read_chart(text)
    assert what in str(caught.value)
    assert caught.value.where is not None
    assert caught.value.where.line == line
    assert caught.value.remedy
