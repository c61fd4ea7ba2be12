"""Laws of the chart's text: it says everything the value holds, in one way."""

from hypothesis import given, settings

from changewright.chart.chart import Chart
from changewright.chart.reader import read_chart
from changewright.chart.unroll import digest_of, unroll
from changewright.chart.writer import write_chart
from tests.unit.chart.charts import charts


@given(charts())
@settings(max_examples=100, deadline=None)
def test_reading_what_was_written_gives_the_same_chart(chart: Chart) -> None:
    text = write_chart(chart)
    assert read_chart(text) == chart
    assert write_chart(read_chart(text)) == text


@given(charts())
@settings(max_examples=40, deadline=None)
def test_a_form_is_tiled_by_its_bars_and_a_bar_by_its_changes(chart: Chart) -> None:
    form = unroll(chart)
    at = form.bars[0].start
    assert at == 0
    for bar in form.bars:
        assert bar.start == at
        for change in bar.changes:
            assert change.onset == at
            at = change.end
        assert at == bar.end
    assert form.length == at
    assert [bar.number for bar in form.bars][-1] == sum(bar.number > 0 for bar in form.bars)
    assert form.digest == digest_of(chart)


@given(charts())
@settings(max_examples=40, deadline=None)
def test_every_played_bar_is_a_written_bar(chart: Chart) -> None:
    form = unroll(chart)
    first = 0 if chart.has_pickup else 1
    for bar in form.bars:
        written = chart.bars[bar.source - first]
        assert [c.text for c in written.chords] == [c.text for c in bar.changes]
        assert (written.meter, written.section) == (bar.meter, bar.label)
