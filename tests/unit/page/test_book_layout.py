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


@given(blocks, st.integers(1, 2))
def test_every_row_stands_once_and_in_order(made, first):
    placed = [
        (s.block, row)
        for page in paginate(made, HEIGHT, first)
        for s in page
        for row in range(s.start, s.end)
    ]
    assert placed == [(n, row) for n, block in enumerate(made) for row in range(len(block.rows_mm))]


@given(blocks, st.integers(1, 2))
def test_no_page_is_empty_or_too_full(made, first):
    for page in paginate(made, HEIGHT, first):
        assert page
        assert all(s.end > s.start for s in page)
        assert taken_mm(made, page) <= HEIGHT + 1e-6


@given(blocks, st.integers(1, 2))
def test_what_fits_on_a_page_is_never_split_and_nothing_is_left_alone(made, first):
    for page in paginate(made, HEIGHT, first):
        for slot in page:
            count = len(made[slot.block].rows_mm)
            whole = (slot.start, slot.end) == (0, count)
            assert whole or made[slot.block].height_mm() > HEIGHT
            assert whole or slot.end - slot.start >= 2 or count < 4


def test_a_long_exercise_breaks_where_the_player_rests_at_the_turn_of_a_page():
    long = Block(20, (30.0,) * 12, 5, tuple(n == 5 for n in range(12)))
    assert paginate([long], HEIGHT) == [[Slot(0, 0, 6)], [Slot(0, 6, 12)]]
    without = Block(20, (30.0,) * 12, 5, (False,) * 12)
    assert paginate([without], HEIGHT) == [[Slot(0, 0, 7)], [Slot(0, 7, 12)]]


def test_facing_pages_need_no_rest_between_them():
    long = Block(20, (30.0,) * 12, 5, tuple(n == 5 for n in range(12)))
    assert paginate([long], HEIGHT, first_page=2) == [[Slot(0, 0, 7)], [Slot(0, 7, 12)]]
    after_a_page = [Block(20, (30.0,) * 7, 5), long]  # the second begins on the left-hand page 2
    assert paginate(after_a_page, HEIGHT)[1:] == [[Slot(1, 0, 7)], [Slot(1, 7, 12)]]


def test_a_piece_of_three_pages_rests_where_its_second_is_a_right_hand_one():
    longer = Block(20, (30.0,) * 20, 5, tuple(n in (5, 12) for n in range(20)))
    assert paginate([longer], HEIGHT, first_page=2) == [
        [Slot(0, 0, 7)], [Slot(0, 7, 13)], [Slot(0, 13, 20)],
    ]  # fmt: skip


def test_two_short_ones_share_a_page():
    short = Block(22, (25.0,) * 3, 6)
    assert [len(page) for page in paginate([short] * 5, HEIGHT)] == [2, 2, 1]
