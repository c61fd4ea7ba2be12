"""Laws of the engine, on random small trellises: exact weight, no broken rule, honest refusals."""

from fractions import Fraction

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import logsumexp

from changewright.line.grammar import Grammar
from changewright.line.slot import Slot
from changewright.line.trellis import Trellis
from tests.unit.line.small import RULES, TASTES, Direction, every_line

pools = st.lists(st.integers(58, 70), min_size=1, max_size=4, unique=True).map(tuple)


@st.composite
def trellises(draw):
    rows = draw(st.lists(pools, min_size=1, max_size=5))
    strict = draw(st.lists(st.booleans(), min_size=5, max_size=5))
    leans = draw(st.lists(st.floats(-3, 3), min_size=4, max_size=4))
    slots = tuple(
        Slot.of(
            Fraction(i),
            1,
            str(i + 1),
            {"pitch": row},
            facts=(("strict", int(strict[i])),),
            lean=tuple(leans[: len(row)]),
        )
        for i, row in enumerate(rows)
    )
    return Trellis(Grammar(RULES, TASTES, Direction()), slots)


@given(trellises())
@settings(max_examples=150, deadline=None, derandomize=True)
def test_the_weight_is_that_of_all_lines_and_a_refusal_means_there_are_none(trellis):
    weights = dict(every_line(trellis))
    conflict = trellis.conflict()
    if conflict is not None:
        assert weights == {}
        assert conflict.repairs
        for repair in conflict.repairs:
            assert np.isfinite(trellis.waive(repair.waivers).solve().log_z)
        return
    solution = trellis.solve()
    assert abs(solution.log_z - logsumexp(list(weights.values()))) < 1e-9
    drawn = solution.sample(40, np.random.default_rng(1)).tolist()
    assert {tuple(line) for line in drawn} <= set(weights)
    assert abs(weights[tuple(solution.best().tolist())] - max(weights.values())) < 1e-9


@given(trellises())
@settings(max_examples=60, deadline=None, derandomize=True)
def test_the_first_repair_is_the_cheapest_there_is(trellis):
    """Oracle: the blame of every line whatever it breaks, by enumeration."""
    conflict = trellis.conflict()
    if conflict is None:
        return
    free = Trellis(Grammar((), (), Direction()), trellis.slots)
    assert (
        abs(conflict.repairs[0].cost - min(_blame(trellis, line) for line, _ in every_line(free)))
        < 1e-9
    )


def _blame(trellis, line):
    total = 0.0
    pitches = [dict(s.columns)["pitch"][c] for s, c in zip(trellis.slots, line, strict=True)]
    for i, pitch in enumerate(pitches):
        total += 5.0 * (pitch > 67)
        if i:
            total += 1.0 * (abs(pitch - pitches[i - 1]) > 4)
        if i > 1:
            strict = dict(trellis.slots[i].facts)["strict"] == 1
            total += 2.0 * (strict and pitches[i - 2] > pitches[i - 1] < pitch)
    return total
