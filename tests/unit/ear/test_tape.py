"""A tape gives back what was put on it, whatever the blocks were."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from changewright.ear._tape import Tape, pieces

SOUND = np.random.default_rng(3).uniform(-1, 1, 500).astype(np.float32)


@given(
    st.lists(st.integers(0, 500), max_size=6).map(sorted),
    st.integers(-20, 520),
    st.integers(-20, 520),
)
def test_any_stretch_of_it_is_there(cuts: list[int], first: int, last: int) -> None:
    tape = Tape()
    for a, b in pairwise([0, *cuts, 500]):
        tape.add(SOUND[a:b])
    assert len(tape) == 500
    wanted = SOUND[max(0, first) : max(0, last)]
    assert tape.between(first, last).dtype == np.float32
    assert tape.between(first, last) == pytest.approx(wanted, rel=2**-11, abs=1e-7)
    assert np.concatenate(list(tape)) == pytest.approx(SOUND, rel=2**-11, abs=1e-7)


def test_pieces_are_the_whole() -> None:
    parts = list(pieces(SOUND, 120))
    assert [len(p) for p in parts] == [120, 120, 120, 120, 20]
    assert np.array_equal(np.concatenate(parts), SOUND)
    assert list(pieces(SOUND[:0], 120)) == []
