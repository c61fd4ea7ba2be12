"""Takes are heard in a process of their own, which may die without taking the studio along."""

import os
import time
from collections.abc import Iterator
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest

from changewright.errors import TakeError
from changewright.studio.listener import Listener


@pytest.fixture
def ear() -> Iterator[Listener]:
    one = Listener(longest_s=20)
    yield one
    one.close()


def test_a_fault_comes_back_as_words(ear: Listener, tmp_path: Path) -> None:
    with pytest.raises(TakeError, match="Name the folder"):
        ear.hear(tmp_path / "take.wav", tmp_path / "no-lesson", 1)


def test_a_process_that_died_is_replaced(ear: Listener, tmp_path: Path) -> None:
    ear._submit(int).result(20)
    for worker in list(ear._ready()._processes.values()):
        worker.kill()
        worker.join()
    for _ in range(2):  # the first may be the one that notices
        with pytest.raises(TakeError, match=r"Name the folder|more time or memory"):
            ear.hear(tmp_path / "take.wav", tmp_path / "no-lesson", 1)
    with pytest.raises(TakeError, match="Name the folder"):
        ear.hear(tmp_path / "take.wav", tmp_path / "no-lesson", 1)


def test_a_process_that_dies_over_a_take_takes_nothing_along(tmp_path: Path) -> None:
    ear = Listener(longest_s=20)
    fatal = ear._submit(os._exit, 1)
    with pytest.raises(BrokenProcessPool):
        fatal.result(20)
    with pytest.raises(TakeError, match="Name the folder"):
        ear.hear(tmp_path / "take.wav", tmp_path / "no-lesson", 1)
    ear.close()


def test_a_take_that_never_ends_is_let_go(tmp_path: Path) -> None:
    ear = Listener(longest_s=1)
    ear._submit(time.sleep, 60)
    started = time.monotonic()
    with pytest.raises(TakeError, match="more time or memory"):
        ear.hear(tmp_path / "take.wav", tmp_path, 1)
    assert time.monotonic() - started < 15
    ear.close()


def test_memory_is_bounded(tmp_path: Path) -> None:
    ear = Listener(longest_s=20, most_memory=400 * 2**20)
    future = ear._submit(bytearray, 2**30)
    with pytest.raises(MemoryError):
        future.result(20)
    ear.close()
