"""A work that hangs, eats memory or falls over ends its own process and nothing else."""

import os
import time
from collections.abc import Iterator

import pytest

from changewright.jobs.bounded import Bounded, Here, Stopped


@pytest.fixture
def hand() -> Iterator[Bounded]:
    one = Bounded(longest_s=20)
    yield one
    one.close()


def test_a_result_and_a_fault_come_back(hand: Bounded) -> None:
    assert hand.do(int, "7") == 7
    assert hand.do(os.getpid) != os.getpid(), "in a process of its own"
    assert hand.do(os.getpid) == hand.do(os.getpid), "the same one again"
    with pytest.raises(ValueError, match="invalid literal"):
        hand.do(int, "seven")


def test_a_process_that_dies_over_a_work_is_replaced(hand: Bounded) -> None:
    first = hand.do(os.getpid)
    with pytest.raises(Stopped):
        hand.do(os._exit, 1)
    assert hand.do(os.getpid) != first


def test_a_process_that_died_meanwhile_is_replaced(hand: Bounded) -> None:
    first = hand.do(os.getpid)
    os.kill(first, 9)
    for _ in range(2):  # the first may be the one that notices
        try:
            found = hand.do(os.getpid)
        except Stopped:
            continue
        assert found != first
    assert hand.do(int, "7") == 7


def test_a_work_that_never_ends_is_let_go() -> None:
    hand = Bounded(longest_s=1)
    started = time.monotonic()
    with pytest.raises(Stopped):
        hand.do(time.sleep, 60)
    assert time.monotonic() - started < 15
    hand.close()


def test_memory_is_bounded() -> None:
    hand = Bounded(longest_s=20, most_memory=400 * 2**20)
    with pytest.raises(Stopped):
        hand.do(bytearray, 2**30)
    assert hand.do(len, b"abc") == 3, "and the next work is done"
    hand.close()


@pytest.mark.skipif(not hasattr(os, "nice"), reason="no such thing on this system")
def test_it_can_be_told_to_step_back() -> None:
    hand = Bounded(niceness=7)
    assert hand.do(os.nice, 0) == os.nice(0) + 7
    hand.close()


def test_without_a_process_it_is_done_here() -> None:
    assert Here().do(os.getpid) == os.getpid()
    Here().close()
