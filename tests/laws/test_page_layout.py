"""Laws of the page: whatever is composed, for whomever, it can be read."""

from hypothesis import given, settings
from hypothesis import strategies as st

from changewright.music.notation import notate
from changewright.page.engraving import engrave_notation
from changewright.page.look import look_of
from changewright.page.svg import picture_svg
from changewright.theory.instrument import instruments
from tests.unit.page.checker import faults
from tests.unit.page.sheets import random_rhythms, sheet_of

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
QUALITIES = ("7", "m7", "maj7", "m7(b5)", "°7", "6", "7(b9,b13)", "7alt", "9sus4", "m(maj7)")
changes = st.lists(
    st.tuples(
        st.builds("".join, st.tuples(st.sampled_from(ROOTS), st.sampled_from(QUALITIES))),
        st.sampled_from([1, 2, 4, 4]),
    ),
    min_size=1,
    max_size=12,
)
sheets = st.builds(
    lambda symbols, player, key, seed, stage, blank: sheet_of(
        symbols,
        instrument_id=player,
        key=key,
        rhythm=random_rhythms(seed, 60),
        labels={1: "A", 5: "B"},
        stage=stage,
        blank=blank,
        seed=seed,
    ),
    changes,
    st.sampled_from(sorted(instruments())),
    st.sampled_from(ROOTS),
    st.integers(1, 10_000),
    st.sampled_from(["comfort", "professional"]),
    st.sets(st.integers(1, 12), max_size=3),
)


@settings(max_examples=40, deadline=None)
@given(sheets, st.sampled_from(["plain", "handwritten"]))
def test_nothing_collides_for_anybody(sheet, look_name):
    look = look_of(look_name)
    systems = engrave_notation(notate(sheet), look)
    for system in systems:
        assert faults(picture_svg(system.picture), look.music) == []
    assert [b.bar.number for s in systems for b in s.bars] == [
        b.bar.number for b in notate(sheet).bars
    ]


@settings(max_examples=40, deadline=None)
@given(sheets)
def test_every_sounding_note_is_drawn_and_no_blank_one(sheet):
    notation = notate(sheet)
    systems = engrave_notation(notation, look_of("plain"))
    heads = sum(s.kind == "notehead" for system in systems for s in system.shapes)
    assert heads == sum(m.pitch is not None for b in notation.bars for m in b.marks)
    figures = sum(t.kind == "figure" for system in systems for t in system.texts)
    assert figures == sum(n.degree is not None and not n.blank for n in sheet.line.notes)
