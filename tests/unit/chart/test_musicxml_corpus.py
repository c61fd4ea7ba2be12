"""Lead sheets that commercial notation programs exported, beside an independent reader.

Source: the scores that music21 carries for its own tests (old songs and its demonstration files);
its importer and its expansion of repeats are the reference.
"""

import warnings
from fractions import Fraction
from pathlib import Path

import music21
import pytest
from music21 import harmony, stream

from changewright.chart.chart import Chart
from changewright.chart.load import load_chart
from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.errors import ChartError

CORPUS = Path(music21.__file__).parent / "corpus"
LEAD_SHEETS = sorted(CORPUS.glob("leadSheet/*.mxl"))
DEMOS = sorted(CORPUS.glob("demos/*.mxl")) + sorted(CORPUS.glob("demos/*.xml"))


def expanded(path: Path) -> stream.Part:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return music21.converter.parse(path).parts[0].expandRepeats()


def symbols(measure: stream.Measure) -> dict[Fraction, str]:
    found = measure.recurse().getElementsByClass(harmony.ChordSymbol)
    return {Fraction(s.offset): s.root().name for s in found}


@pytest.mark.parametrize("path", LEAD_SHEETS, ids=range(len(LEAD_SHEETS)))
def test_bars_symbols_and_melody_agree_with_an_independent_reader(path: Path) -> None:
    form, part = unroll(load_chart(path)), expanded(path)
    measures = list(part.getElementsByClass(stream.Measure))
    assert len(form.bars) == len(measures) > 30
    for bar, measure in zip(form.bars, measures, strict=True):
        ours = {c.onset - bar.start: str(c.chord.root).replace("b", "-") for c in bar.changes}
        theirs = symbols(measure)
        assert theirs.items() <= ours.items()
        assert set(ours) - set(theirs) <= {Fraction(0)}  # a chord that goes on from the bar before
    notes = [
        n
        for n in part.stripTies().recurse().notes
        if not isinstance(n, harmony.ChordSymbol) and not n.duration.isGrace
    ]
    assert form.melody
    assert [n.pitch.midi for n in form.melody.notes] == [n.pitch.midi for n in notes]


def outcome(path: Path) -> Chart | str:
    try:
        return load_chart(path)
    except ChartError as error:
        return str(error)


@pytest.mark.parametrize("path", LEAD_SHEETS + DEMOS, ids=lambda p: p.suffix)
def test_real_scores_are_read_whole_or_refused_with_one_error(path: Path) -> None:
    found = outcome(path)
    if isinstance(found, Chart):
        assert read_chart(write_chart(found)) == found
    else:
        assert found.startswith(path.name)


def test_a_file_of_all_kinds_of_symbols_is_read() -> None:
    path = next(path for path in DEMOS if "ChordSymbols" in path.name)
    chart = load_chart(path)
    assert sum(len(bar.chords) for bar in chart.bars) > 50
