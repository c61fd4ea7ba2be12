"""The trellis against brute force: the oracle is plain enumeration of every line."""

from collections import Counter
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import chisquare, kstest

from changewright.errors import Refusal
from changewright.line import trellis as engine
from changewright.line.conflict import Waiver
from changewright.line.grammar import Grammar, Preference
from changewright.line.slot import Slot
from changewright.line.tables import Tables
from changewright.line.trellis import Trellis
from tests.unit.line.small import (
    RULES,
    TASTES,
    Direction,
    every_line,
    forgetful,
    slot,
    with_memory,
)

CASES = pytest.mark.parametrize("make", [with_memory, forgetful])


@CASES
def test_log_z_equals_brute_force(make):
    trellis = make()
    weights = [w for _, w in every_line(trellis)]
    assert len(weights) > 10
    assert trellis.solve().log_z == pytest.approx(logsumexp(weights), abs=1e-9)


@CASES
@pytest.mark.parametrize(("batch", "draws"), [(20_000, 20_000), (1, 1_000)])
def test_samples_follow_the_joint_distribution(make, batch, draws):
    """Chi-square over whole lines, rare lines pooled. Over many seeds the p-values of an exact
    sampler are uniform, which says more than one lucky seed: the smallest of 16 stays above
    0.01 / 16 and they pass a Kolmogorov-Smirnov test."""
    trellis = make()
    weights = dict(every_line(trellis))
    solution = trellis.solve()
    found = [_p_value(solution, weights, batch, draws, seed) for seed in range(16)]
    assert kstest(found, "uniform").pvalue > 0.01
    assert min(found) > 0.01 / 16


def _p_value(solution, weights, batch, draws, seed):
    rng = np.random.default_rng(seed)
    rows = [solution.sample(batch, rng) for _ in range(draws // batch)]
    seen = Counter(map(tuple, np.concatenate(rows).tolist()))
    assert set(seen) <= set(weights)
    total = logsumexp(list(weights.values()))
    expected = {line: draws * float(np.exp(w - total)) for line, w in weights.items()}
    common = [line for line, share in expected.items() if share >= 5]
    observed, wanted = [seen[line] for line in common], [expected[line] for line in common]
    if draws - sum(wanted) > 1e-6:
        observed.append(draws - sum(observed))
        wanted.append(draws - sum(wanted))
    return chisquare(observed, wanted).pvalue


@CASES
def test_best_is_the_heaviest_line(make):
    trellis = make()
    weights = dict(every_line(trellis))
    best = tuple(trellis.solve().best().tolist())
    assert weights[best] == pytest.approx(max(weights.values()))


@CASES
def test_log_weight_is_the_weight_of_one_line(make):
    trellis = make()
    solution = trellis.solve()
    for line, weight in list(every_line(trellis))[::7]:
        assert solution.log_weight(line) == pytest.approx(weight)


def test_log_weight_of_a_forbidden_line_is_minus_infinity():
    assert with_memory().solve().log_weight((0, 5, 0, 0, 0)) == -np.inf


def test_clamp_holds_a_slot():
    clamped = with_memory().clamp(1, [3])
    weights = [w for line, w in every_line(with_memory()) if line[1] == 3]
    assert clamped.solve().log_z == pytest.approx(logsumexp(weights), abs=1e-9)


def test_same_seed_same_lines():
    solution = with_memory().solve()
    first = solution.sample(40, np.random.default_rng(3))
    again = with_memory().solve(Tables()).sample(40, np.random.default_rng(3))
    assert (first == again).all()


def test_strong_tastes_do_not_break_rules():
    """PITFALL of plain probabilities: weights of a thousand nats underflow."""
    strong = Preference("steep", lambda move: -900.0 * (move.after["pitch"] - 60.0), single=True)
    grammar = Grammar(RULES[:2], (strong,))
    slots = tuple(slot(i, (60, 64, 67)) for i in range(6))
    solution = Trellis(grammar, slots).clamp(5, [2]).solve()
    line = solution.sample(1, np.random.default_rng(1))[0]
    pitches = [60 if c == 0 else 64 if c == 1 else 67 for c in line]
    assert all(abs(a - b) <= 4 for a, b in pairwise(pitches))
    assert pitches == [60, 60, 60, 60, 64, 67]


def test_long_forms_use_checkpoints_and_stay_exact(monkeypatch):
    slots = tuple(slot(i, (60, 62, 64, 65, 67)) for i in range(500))
    whole = Trellis(Grammar(RULES, TASTES, Direction()), slots).solve()
    lines = whole.sample(3, np.random.default_rng(5))
    monkeypatch.setattr(engine, "BLOCK", 7)
    monkeypatch.setattr(engine, "HELD_BLOCKS", 2)
    pieces = Trellis(Grammar(RULES, TASTES, Direction()), slots).solve()
    assert pieces.log_z == whole.log_z
    for _ in range(2):
        assert (pieces.sample(3, np.random.default_rng(5)) == lines).all()


def test_tables_stay_within_their_bound():
    tables = Tables(most_arcs=400)
    slots = tuple(slot(i, tuple(range(60, 60 + 3 + i % 9))) for i in range(40))
    bounded = Trellis(Grammar(RULES, TASTES, Direction()), slots).solve(tables)
    free = Trellis(Grammar(RULES, TASTES, Direction()), slots).solve(Tables())
    assert bounded.log_z == free.log_z
    largest = max(step.arcs for step in bounded._steps)
    assert tables.arcs <= max(400, largest)


def test_one_slot_is_a_trellis_too():
    solution = Trellis(Grammar(RULES, TASTES), (slot(0, (60, 64, 70)),)).solve()
    assert solution.log_z == pytest.approx(np.log(1 + np.exp(-0.4)))
    assert set(solution.sample(50, np.random.default_rng(0))[:, 0]) == {0, 1}


def test_slots_reject_ragged_columns():
    with pytest.raises(ValueError, match="one number"):
        Slot.of(Fraction(0), 1, "1", {"pitch": (1, 2), "other": (1,)})
    with pytest.raises(ValueError, match="one weight"):
        slot(0, (60, 62), lean=(1.0,))


def stuck(*, twice: bool) -> Trellis:
    """A line held to 60 and then 67, which needs a leap; once more later on if ``twice``."""
    pools = [(60,), (67,), (62, 64), (60,), (60, 62), (60,), (66,) if twice else (62,), (64,)]
    return Trellis(Grammar(RULES, TASTES, Direction()), tuple(map(slot, range(8), pools)))


def test_refusal_names_bar_beat_and_rule():
    with pytest.raises(Refusal) as caught:
        stuck(twice=False).solve()
    assert (caught.value.bar, caught.value.beat) == (1, "2")
    assert caught.value.rules == ("leap",)
    assert "let the line leap in bar 1 beat 2" in caught.value.repairs[0]


def test_two_conflicts_at_once_are_both_named_and_repaired():
    conflict = stuck(twice=True).conflict()
    assert conflict is not None
    assert conflict.repairs[0].waivers == {Waiver(1, "leap"), Waiver(6, "leap")}
    assert "bar 1 beat 2 and bar 2 beat 3" in conflict.repairs[0].words


def test_every_repair_really_helps():
    for trellis in (stuck(twice=False), stuck(twice=True)):
        conflict = trellis.conflict()
        assert conflict is not None
        for repair in conflict.repairs:
            assert np.isfinite(trellis.waive(repair.waivers).solve().log_z)


def test_the_first_repair_costs_least():
    """Enumerate all waivers of at most two places as the oracle."""
    slots = (slot(0, (60, 64)), slot(1, (69, 70)), slot(2, (60, 64)))
    trellis = Trellis(Grammar(RULES[:2], TASTES[:1]), slots)
    conflict = trellis.conflict()
    assert conflict is not None
    # from 64: leap up (1) to a note above the range (5), leap down (1)
    assert conflict.repairs[0].cost == 7.0
    assert conflict.repairs[0].waivers == {Waiver(1, "leap"), Waiver(1, "range"), Waiver(2, "leap")}


def test_no_conflict_where_a_line_exists():
    assert with_memory().conflict() is None


def test_a_rule_that_remembers_is_blamed_too():
    strict = (("strict", 1),)
    slots = (slot(0, (64,)), slot(1, (62,)), slot(2, (64,), facts=strict))
    conflict = Trellis(Grammar(RULES, TASTES, Direction()), slots).conflict()
    assert conflict is not None
    assert conflict.rules == ("no turn",)


def test_switching_a_rule_off_lets_the_line_through():
    assert np.isfinite(stuck(twice=True).without("leap").solve().log_z)
