"""Works in turn: done once by name, first come first served, and each tells how far it is."""

from collections.abc import Iterator
from concurrent.futures import CancelledError
from threading import Event

import pytest

from changewright.jobs.bounded import Hand, Here
from changewright.jobs.turns import Standing, Turns


class Gate:
    """A work that begins when told to, and counts how often it was done."""

    def __init__(self) -> None:
        self.begun, self.may_end, self.times = Event(), Event(), 0

    def __call__(self, hand: Hand) -> int:
        self.begun.set()
        assert self.may_end.wait(20)
        self.times += 1
        return self.times


@pytest.fixture
def turns() -> Iterator[Turns]:
    one = Turns([Here()])
    yield one
    one.close()


def test_the_same_name_is_done_once(turns: Turns) -> None:
    gate = Gate()
    first, again = turns.ask("a", gate), turns.ask("a", gate)
    gate.may_end.set()
    assert first.result(20) == again.result(20) == 1
    assert gate.times == 1


def test_each_tells_how_far_it_is(turns: Turns) -> None:
    gate = Gate()
    asked = [turns.ask(name, gate) for name in "abc"]
    assert gate.begun.wait(20)
    assert turns.standing("a") == Standing("working")
    assert turns.standing("b") == Standing("waiting", 0)
    assert turns.standing("c") == Standing("waiting", 1)
    gate.may_end.set()
    assert [one.result(20) for one in asked] == [1, 2, 3], "first come, first served"
    assert turns.standing("c") == Standing("unknown")


def test_a_fault_is_told_to_who_asked_and_the_next_is_done(turns: Turns) -> None:
    bad = turns.ask("bad", lambda _: 1 // 0)
    good = turns.ask("good", lambda hand: hand.do(int, "7"))
    with pytest.raises(ZeroDivisionError):
        bad.result(20)
    assert good.result(20) == 7
    assert turns.ask("bad", lambda _: 2).result(20) == 2, "and may be asked for again"


def test_several_hands_work_side_by_side() -> None:
    turns, gate = Turns([Here(), Here()]), Gate()
    other = Gate()
    asked = turns.ask("a", gate), turns.ask("b", other)
    assert gate.begun.wait(20)
    assert other.begun.wait(20)
    gate.may_end.set()
    other.may_end.set()
    assert [one.result(20) for one in asked] == [1, 1]
    turns.close()


def test_what_waits_is_let_go_at_the_end() -> None:
    turns, gate = Turns([Here()]), Gate()
    running, waiting = turns.ask("a", gate), turns.ask("b", gate)
    assert gate.begun.wait(20)
    turns.close()
    gate.may_end.set()
    assert running.result(20) == 1
    with pytest.raises(CancelledError):
        waiting.result(20)


def test_without_hands_it_is_done_at_once() -> None:
    turns = Turns()
    assert turns.ask("a", lambda hand: hand.do(int, "7")).done()
    assert isinstance(turns.ask("a", lambda _: 1 // 0).exception(), ZeroDivisionError)
    turns.close()
