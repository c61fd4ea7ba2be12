"""Laws of moving a chart: everything sounds moved by one interval, and keys stay readable."""

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from changewright.chart.chart import Chart
from changewright.chart.reader import read_chart
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.theory.key import Key
from changewright.theory.pitch import Name
from tests.unit.chart.charts import charts

goals = st.integers(-6, 6).map(lambda fifths: Key(Name(fifths)))


def shift_of(chart: Chart, moved: Chart) -> int:
    assert chart.key
    assert moved.key
    return (moved.key.tonic.pc - chart.key.tonic.pc) % 12


@given(charts(), goals)
@settings(max_examples=50, deadline=None)
def test_every_chord_and_note_sounds_moved_by_one_interval(chart: Chart, goal: Key) -> None:
    assume(chart.key)
    moved = transpose_chart(chart, goal)
    shift = shift_of(chart, moved)
    before, after = unroll(chart), unroll(moved)
    for old, new in zip(before.changes, after.changes, strict=True):
        assert new.chord.degrees == old.chord.degrees
        assert {(pc + shift) % 12 for pc in old.chord.pcs} == new.chord.pcs
        assert (old.onset, old.duration) == (new.onset, new.duration)
    if before.melody and after.melody:
        semitones = {
            b.pitch.midi - a.pitch.midi
            for a, b in zip(before.melody.notes, after.melody.notes, strict=True)
        }
        assert len(semitones) <= 1
        assert all(-6 <= s <= 6 and s % 12 == shift for s in semitones)


@given(charts(), goals)
@settings(max_examples=50, deadline=None)
def test_keys_have_at_most_six_accidentals_and_names_at_most_one(chart: Chart, goal: Key) -> None:
    assume(chart.key)
    moved = transpose_chart(chart, goal)
    assert moved.key
    assert moved.key.tonic.pc == goal.tonic.pc
    for bar in moved.bars:
        assert all(abs(k.signature) <= 6 for k in (bar.key, bar.pin) if k)
        roots = [chord.chord.root for chord in bar.chords]
        assert all(abs(root.alter) <= 1 for root in roots if root)
        assert all(abs(piece.pitch.name.alter) <= 1 for piece in bar.melody if piece.pitch)
    assert read_chart(write_chart(moved)) == moved


@given(charts(), goals, goals)
@settings(max_examples=40, deadline=None)
def test_moving_twice_sounds_like_moving_once(chart: Chart, by_way_of: Key, goal: Key) -> None:
    assume(chart.key)
    once = unroll(transpose_chart(chart, goal))
    twice = unroll(transpose_chart(transpose_chart(chart, by_way_of), goal))
    assert [c.chord.pcs for c in once.changes] == [c.chord.pcs for c in twice.changes]
