"""A level of a teacher's own: whatever its numbers, a line that keeps its promises or a refusal.

Common practice, no source: the laws are our own."""

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from changewright.errors import Refusal
from changewright.lesson.cells import rhythm_names
from changewright.lesson.compose import compose
from changewright.lesson.family import families
from changewright.lesson.level import levels
from changewright.lesson.own_level import check_level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import reading

pairs = st.tuples(st.integers(1, 8), st.integers(1, 8)).map(lambda p: (min(p), max(p)))
own_levels = st.builds(
    replace,
    st.sampled_from(sorted(levels().values(), key=lambda one: one.number)),
    note_values=st.sets(
        st.sampled_from([Fraction(1, 2), Fraction(1), Fraction(3, 2), Fraction(2), Fraction(4)]),
        min_size=1,
    ).map(lambda values: tuple(sorted(values))),
    widest_leap=st.integers(2, 24),
    notes_a_bar=pairs,
    chromatic_share=st.floats(0, 1),
    phrase_bars=st.tuples(st.integers(1, 4), st.integers(0, 4)),
    rhythms=st.sets(st.sampled_from(rhythm_names()), min_size=1).map(lambda s: tuple(sorted(s))),
    written_accidentals=st.integers(0, 7),
)


@given(own_levels, st.data())
def test_a_level_of_any_numbers_makes_a_line_that_keeps_its_word_or_a_refusal(own, data):
    check_level(own)
    able = [f.id for f in families().values() if f.since <= own.number and not f.wants_melody]
    name = data.draw(st.sampled_from(able))
    form = data.draw(st.sampled_from(["jazz blues", "two five one"]))
    try:
        sheet = compose(reading(form), Player(instrument("alto saxophone")), own, name, 1)
    except Refusal:
        return
    assert broken(sheet) == ()
