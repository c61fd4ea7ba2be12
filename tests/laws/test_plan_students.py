"""The planner on simulated students, beside the orders that a book or a dice would give."""

import pytest
from benchmarks.bench_plan import minutes_to_goal

SEEDS = range(31, 37)


@pytest.mark.slow
def test_the_planner_reaches_the_goal_in_fewer_minutes_than_any_fixed_or_random_order() -> None:
    """Seeds that neither the settings nor the figures were taken from."""
    taken = {
        policy: sum(minutes_to_goal(policy, seed) for seed in SEEDS)
        for policy in ("planner", "page", "rotation", "random")
    }
    assert min(taken, key=lambda policy: taken[policy]) == "planner", taken


def test_the_same_seed_gives_the_same_student() -> None:
    assert minutes_to_goal("planner", 13) == minutes_to_goal("planner", 13)
