"""A process for work on what strangers send, bounded in time and memory, and replaced where it
dies.

The books' :class:`~changewright.jobs.running.Workers` share a pool: there a worker that dies takes
its neighbours' work along, which a command may repeat. A server may not.
"""

import multiprocessing
import os
import sys
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor, TimeoutError
from concurrent.futures.process import BrokenProcessPool
from threading import Lock
from typing import Any, Protocol, TypeVar

__all__ = ["LONGEST_S", "MOST_MEMORY", "Bounded", "Hand", "Here", "Stopped"]

T = TypeVar("T")

LONGEST_S = 120.0
"""How long one work may take, in seconds."""

MOST_MEMORY = 6 * 2**30
"""How many bytes of address space the process may ask for."""


class Stopped(Exception):
    """A work took more time or memory than it may, and was ended."""


class Hand(Protocol):
    """Whoever does a work: a top-level function of values that can be pickled."""

    def do(self, work: Callable[..., T], *told: object) -> T:
        """Do it, and wait until it is done; raises :class:`Stopped`."""

    def close(self) -> None:
        """Let go."""


class Here:
    """Does a work in this thread, without bounds: for tests, and where nobody else comes in."""

    def do(self, work: Callable[..., T], *told: object) -> T:
        """Do it at once."""
        return work(*told)

    def close(self) -> None:
        """Nothing to let go."""


class Bounded:
    """One warm process that does one work after another.

    ``niceness`` is what the operating system is told of its urgency: 0 is as urgent as we are, 19
    the least.
    """

    def __init__(
        self,
        *,
        longest_s: float = LONGEST_S,
        most_memory: int = MOST_MEMORY,
        niceness: int = 0,
    ) -> None:
        self._longest_s, self._most_memory = longest_s, most_memory
        self._niceness = niceness
        self._pool: ProcessPoolExecutor | None = None
        self._lock = Lock()

    def do(self, work: Callable[..., T], *told: object) -> T:
        """Do it in the process, and wait until it is done; raises :class:`Stopped`."""
        future = self._submit(work, *told)
        try:
            return future.result(self._longest_s)
        except (TimeoutError, BrokenProcessPool, MemoryError) as fault:
            self.close()
            raise Stopped from fault

    def close(self) -> None:
        """Let the process go, whatever it is doing."""
        with self._lock:
            pool, self._pool = self._pool, None
        if pool is None:
            return
        workers = list((getattr(pool, "_processes", None) or {}).values())
        pool.shutdown(wait=False, cancel_futures=True)
        for worker in workers:
            worker.kill()
        pool.shutdown(wait=True)

    def _submit(self, work: Callable[..., T], *told: object) -> Future[T]:
        """PITFALL: a process that died since the last work is only noticed now."""
        try:
            return self._ready().submit(work, *told)
        except BrokenProcessPool:
            self.close()
            return self._ready().submit(work, *told)

    def _ready(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._pool is None:
                self._pool = ProcessPoolExecutor(
                    1,
                    # PITFALL: a fork would copy the engines' threads and locks as they stand.
                    mp_context=multiprocessing.get_context("spawn"),
                    initializer=_bound,
                    initargs=(self._most_memory, self._niceness),
                )
            return self._pool


def _bound(most_memory: int, niceness: int) -> Any:
    """PITFALL: not every system bounds address space; where it doesn't, only time is bounded."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(niceness)
    if sys.platform == "linux":
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (most_memory, most_memory))
