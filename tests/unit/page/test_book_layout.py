"""Pages of a book: every row once and in order, nothing over the edge, no row alone."""

from hypothesis import given
from hypothesis import strategies as st

from changewright.page.book_layout import Block, Slot, paginate, taken_mm

HEIGHT = 250.0

blocks = st.lists(
    st.builds(
        Block,
        st.floats(15, 40),
        st.lists(st.floats(15, 45), min_size=1, max_size=20).map(tuple),
        st.floats(0, 20),
        st.lists(st.booleans(), min_size=20, max_size=20).map(tuple),
    ),
    min_size=1,
    max_size=8,
)


@given(blocks)
def test_every_row_stands_once_and_in_order(made):
    placed = [
        (s.block, row)
        for page in paginate(made, HEIGHT)
        for s in page
        for row in range(s.start, s.end)
    ]
    assert placed == [(n, row) for n, block in enumerate(made) for row in range(len(block.rows_mm))]


@given(blocks)
def test_no_page_is_empty_or_too_full(made):
    for page in paginate(made, HEIGHT):
        assert page
        assert all(s.end > s.start for s in page)
        assert taken_mm(made, page) <= HEIGHT + 1e-6


@given(blocks)
def test_what_fits_on_a_page_is_never_split_and_nothing_is_left_alone(made):
    for page in paginate(made, HEIGHT):
        for slot in page:
            count = len(made[slot.block].rows_mm)
            whole = (slot.start, slot.end) == (0, count)
            assert whole or made[slot.block].height_mm() > HEIGHT
            assert whole or slot.end - slot.start >= 2 or count < 4


def test_a_long_exercise_breaks_where_the_player_rests():
    long = Block(20, (30.0,) * 12, 5, tuple(n == 5 for n in range(12)))
    assert paginate([long], HEIGHT) == [[Slot(0, 0, 6)], [Slot(0, 6, 12)]]
    without = Block(20, (30.0,) * 12, 5, (False,) * 12)
    assert paginate([without], HEIGHT) == [[Slot(0, 0, 7)], [Slot(0, 7, 12)]]


def test_two_short_ones_share_a_page():
    short = Block(22, (25.0,) * 3, 6)
    assert [len(page) for page in paginate([short] * 5, HEIGHT)] == [2, 2, 1]
