"""Works in turn: each has a name, is done once however often it is asked for, and tells how far it
is.

What is waited for is known by whoever asked: after a crash he asks again, and a work that was done
is not done again. So no list of works has to be kept on the disk.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from queue import SimpleQueue
from threading import Lock
from typing import Any, Literal

from changewright.jobs.bounded import Hand, Here

__all__ = ["Standing", "Turns"]


@dataclass(frozen=True, slots=True)
class Standing:
    """How far a work is; ``ahead`` are the works before it that have not begun."""

    state: Literal["waiting", "working", "unknown"]
    ahead: int = 0


class Turns:
    """Works done by several hands, first come, first served.

    A work gets a hand and may block. Without hands everything is done at once by whoever asks.
    """

    def __init__(self, hands: Sequence[Hand] = ()) -> None:
        self._hands = tuple(hands)
        self._free: SimpleQueue[Hand] = SimpleQueue()
        for hand in self._hands:
            self._free.put(hand)
        self._threads = ThreadPoolExecutor(len(self._hands)) if self._hands else None
        self._lock = Lock()
        self._waiting: dict[str, Future[Any]] = {}
        self._working: dict[str, Future[Any]] = {}

    @property
    def hands(self) -> int:
        """How many works are done side by side; 0 where whoever asks does them."""
        return len(self._hands)

    def ask(self, name: str, work: Callable[[Hand], Any]) -> Future[Any]:
        """Have a work done; one of this name that waits or runs is taken for it."""
        if self._threads is None:
            done: Future[Any] = Future()
            _finish(done, work, Here())
            return done
        with self._lock:
            there = self._waiting.get(name) or self._working.get(name)
            if there is not None:
                return there
            future: Future[Any] = Future()
            self._waiting[name] = future
        self._threads.submit(self._do, name, work, future)
        return future

    def standing(self, name: str) -> Standing:
        """How far a work is; a finished one is unknown."""
        with self._lock:
            if name in self._working:
                return Standing("working")
            if name in self._waiting:
                return Standing("waiting", list(self._waiting).index(name))
        return Standing("unknown")

    def close(self) -> None:
        """Forget what waits, and end what runs."""
        if self._threads is not None:
            self._threads.shutdown(wait=False, cancel_futures=True)
        with self._lock:
            for future in self._waiting.values():
                future.cancel()
            self._waiting.clear()
        for hand in self._hands:
            hand.close()

    def _do(self, name: str, work: Callable[[Hand], Any], future: Future[Any]) -> None:
        hand = self._free.get()
        with self._lock:
            if self._waiting.pop(name, None) is None:
                return  # forgotten meanwhile
            self._working[name] = future
        made: Future[Any] = Future()
        try:
            _finish(made, work, hand)
        finally:
            self._free.put(hand)
            with self._lock:
                self._working.pop(name, None)
        # told only now: who looks again on hearing it must not find it still at work
        if (fault := made.exception()) is not None:
            future.set_exception(fault)
        else:
            future.set_result(made.result())


def _finish(future: Future[Any], work: Callable[[Hand], Any], hand: Hand) -> None:
    try:
        result = work(hand)
    except BaseException as fault:  # it belongs to whoever waits for the work
        future.set_exception(fault)
    else:
        future.set_result(result)
