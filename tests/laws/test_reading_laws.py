"""Laws of the reading: it moves with the key, agrees with itself, and leaves no change out."""

import csv
from dataclasses import replace
from fractions import Fraction
from importlib.resources import files

from hypothesis import given, settings
from hypothesis import strategies as st

from changewright.chart.model import Form, form_of
from changewright.music.bar import Bar
from changewright.reading.analyse import analyse
from changewright.reading.document import reading_document
from changewright.reading.guide import guide_lines
from changewright.reading.model import Reading
from changewright.theory.pitch import Interval
from tests.strategies import intervals, names
from tests.unit.reading.forms import chart

__all__: list[str] = []

TAILS = tuple(
    row["print"][1:]
    for row in csv.DictReader(
        files("changewright.theory").joinpath("tables/chords.tsv").read_text("utf-8").splitlines(),
        delimiter="\t",
    )
)
common = st.sampled_from(["", "m", "7", "maj7", "m7", "m7(b5)", "°7", "6", "m6", "7(b9)", "7sus4"])
lengths = st.sampled_from([2, 4, 8])
symbols = st.builds(
    lambda root, tail, bass: f"{root}{tail}{bass}",
    names,
    st.one_of(common, st.sampled_from(TAILS)),
    st.one_of(st.just(""), st.just(""), names.map(lambda name: f"/{name}")),
)
charts = st.lists(st.tuples(symbols, lengths), min_size=1, max_size=16).map(form_of)


def moved(form: Form, interval: Interval) -> Form:
    """The same chart in another key, its symbols left as they were typed."""
    bars = tuple(
        replace(
            bar,
            changes=tuple(replace(c, chord=c.chord.transpose(interval)) for c in bar.changes),
        )
        for bar in form.bars
    )
    return replace(form, bars=bars)


def shape(reading: Reading, down: int = 0) -> list[tuple[object, ...]]:
    """What a reading says, with every note name as a pitch class counted from ``down``."""
    return [
        (
            (one.key.tonic.pc - down) % 12,
            one.key.mode,
            (one.local_tonic.tonic.pc - down) % 12,
            one.function,
            tuple(s.scale.kind.id for s in one.scales),
            tuple((s.scale.root.pc - down) % 12 for s in one.scales),
            tuple(s.rule for s in one.scales),
            tuple((round(o.costs_more, 2)) for o in one.others),
        )
        for one in reading.changes
    ]


@settings(max_examples=60, deadline=None)
@given(charts, intervals)
def test_reading_moves_with_the_key(form: Form, interval: Interval) -> None:
    here, there = analyse(form), analyse(moved(form, interval))
    assert shape(here) == shape(there, interval.semitones)
    assert here.cost == there.cost


@settings(max_examples=30, deadline=None)
@given(st.integers(-5, 6))
def test_tune_in_any_key_has_the_same_numerals_and_words(fifths: int) -> None:
    form = chart("Cmaj7 A7|Dm7 G7|Em7 A7(b9)|Dm7 Db7|Gm7 C7|Fmaj7 F#°7|C/G A7|Dm7 G7")
    here, there = analyse(form), analyse(moved(form, Interval(fifths, 0)))
    assert [(c.numeral, c.relation) for c in here.changes] == [
        (c.numeral, c.relation) for c in there.changes
    ]


@settings(max_examples=60, deadline=None)
@given(charts)
def test_every_change_gets_exactly_one_reading(form: Form) -> None:
    reading = analyse(form)
    assert tuple(one.change for one in reading.changes) == form.changes
    assert reading.bars == form.bars
    assert all(one.scales for one in reading.changes)
    assert reading.areas[0].start == 0
    assert reading.areas[-1].end == form.length
    assert all(a.end == b.start for a, b in zip(reading.areas, reading.areas[1:], strict=False))


@settings(max_examples=60, deadline=None)
@given(charts)
def test_first_choice_holds_the_guide_tones(form: Form) -> None:
    for one in analyse(form).changes:
        chord, first = one.change.chord, one.scales[0]
        tones = {chord.tone(degree).pc for degree in chord.guide_tones}
        assert tones or len(chord.degrees) == 2  # a bare fifth
        assert tones <= first.scale.pcs


@settings(max_examples=60, deadline=None)
@given(charts)
def test_reading_is_a_function_of_the_chart(form: Form) -> None:
    assert reading_document(analyse(form)) == reading_document(analyse(form))


@settings(max_examples=60, deadline=None)
@given(charts, st.lists(st.integers(0, 3), min_size=2, max_size=5))
def test_repeats_agree(form: Form, order: list[int]) -> None:
    """Play bars in any order, some of them often: each written bar reads one way."""
    bars: list[Bar] = []
    start = Fraction(0)
    for number, pick in enumerate(order, 1):
        bar = form.bars[pick % len(form.bars)]
        changes = tuple(replace(c, onset=c.onset - bar.start + start) for c in bar.changes)
        bars.append(replace(bar, number=number, start=start, changes=changes))
        start += bar.length
    reading = analyse(replace(form, bars=tuple(bars)))
    seen: dict[tuple[int, str], tuple[object, ...]] = {}
    sources = {bar.number: bar.source for bar in bars}
    for one in reading.changes:
        said = (one.function, one.numeral, one.key)
        assert seen.setdefault((sources[one.bar], one.beat), said) == said


@settings(max_examples=40, deadline=None)
@given(charts)
def test_guide_lines_go_through_every_chord(form: Form) -> None:
    reading = analyse(form)
    lines = guide_lines(reading)
    assert lines is not None
    heads = [
        i
        for i, one in enumerate(reading.changes)
        if i == 0 or one.change.chord != reading.changes[i - 1].change.chord
    ]
    for line in lines:
        assert [note.index for note in line.notes] == heads
        assert all(abs(note.motion) <= 2 or note.because for note in line.notes)


def test_two_thousand_bars_are_read_like_eight() -> None:
    """How long it takes, and that it grows with the length, is measured by the benchmarks."""
    verse = "Bbmaj7 G7(b9)|Cm7 F7|Dm7 G7(b9)|Cm7 F7|Fm7 Bb7|Ebmaj7 Ebm6|Dm7 G7(b9)|Cm7 F7"
    once = [(c.numeral, c.function, c.key) for c in analyse(chart(verse)).changes]
    often = analyse(chart("|".join([verse] * 250)))
    assert [(c.numeral, c.function, c.key) for c in often.changes] == once * 250
