"""A measured figure and how it is taken."""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

__all__ = ["Figure", "core_ms", "median_ms", "one_core_ms", "paired_ms"]


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the report: ``figure NAME VALUE UNIT``, with the peer's value behind it."""

    name: str
    value: float
    unit: str
    peer: str = ""
    peer_value: float | None = None

    def __str__(self) -> str:
        beside = f" {self.peer} {self.peer_value:.6g}" if self.peer_value is not None else ""
        return f"figure {self.name} {self.value:.6g} {self.unit}{beside}"


def median_ms(work: Callable[[], object], times: int = 11) -> float:
    """Median wall-clock milliseconds of ``work`` after one warm call."""
    work()
    return median(_once_ms(work) for _ in range(times))


def core_ms(work: Callable[[], object], times: int = 5) -> float:
    """The fewest milliseconds of processor time that ``work`` takes after one warm call: what one
    core needs, whatever else the machine does."""
    work()
    return min(_once_core_ms(work) for _ in range(times))


def one_core_ms(work: Callable[[], object], times: int = 5) -> float:
    """The same while the calling thread, and what it starts, is bound to one core, so that no
    second core shares the work or its caches. Where the system can't bind, as :func:`core_ms`."""
    if not hasattr(os, "sched_setaffinity"):
        return core_ms(work, times)
    every = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(every)})
    try:
        return core_ms(work, times)
    finally:
        os.sched_setaffinity(0, every)


def paired_ms(
    ours: Callable[[], object], peer: Callable[[], object], times: int = 7
) -> tuple[float, float]:
    """Medians of two workloads measured turn by turn, so that load strikes both alike."""
    ours()
    peer()
    turns = [(_once_ms(ours), _once_ms(peer)) for _ in range(times)]
    return median(a for a, _ in turns), median(b for _, b in turns)


def _once_core_ms(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return (time.process_time() - start) * 1000


def _once_ms(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000
