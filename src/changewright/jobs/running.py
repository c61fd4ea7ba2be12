"""Run pure functions on all cores; what is finished stays finished, whatever happens after.

A work is a top-level function of a task and the kept results, and gives named parts as bytes. A
task is a frozen value whose ``repr`` says all that the result depends on; results of earlier
works are named in it by their keys.
"""

import gc
import multiprocessing
import os
import signal
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from hashlib import sha256
from types import TracebackType
from typing import Any

from changewright.errors import ChangewrightError, EngineError, InputError, Place
from changewright.jobs.kept import Kept
from changewright.jobs.program import program_digest

__all__ = ["Work", "Workers", "core_count", "key_of"]

Work = Callable[[Any, Kept], Mapping[str, bytes]]
_SELDOM = 100_000
_Outcome = tuple[str, str]  # the kind of a fault and its message; empty where all is well


def core_count() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def key_of(work: Work, task: object) -> str:
    """The hash of a result's inputs: the program, the work, and the task."""
    told = f"{program_digest(work.__module__)}|{work.__module__}.{work.__qualname__}|{task!r}"
    return sha256(told.encode()).hexdigest()


class Workers:
    """Hands for heavy work, to be used in a ``with``; they start when first needed.

    ``count`` 1 works in this process, more in as many processes. Another ``executor``, such as
    a cluster's, is used as it is; it must see the folder of kept results.
    """

    def __init__(self, count: int | None = None, executor: Executor | None = None) -> None:
        self.count = core_count() if count is None else count
        if self.count < 1:
            raise InputError(f"{count} workers can't work", remedy="Ask for one or more.")
        self._given = executor
        self._own: Executor | None = None

    def __enter__(self) -> "Workers":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._own is not None:
            self._own.shutdown(wait=True, cancel_futures=True)
            self._own = None

    def run(
        self,
        work: Work,
        tasks: Sequence[object],
        kept: Kept,
        on_done: Callable[[int], None] = lambda _: None,
        where: Callable[[int], Place] = lambda _: Place(),
    ) -> list[str]:
        """See that every task's result is kept; returns the keys in order.

        ``on_done`` hears how many more are finished. The first task in order that failed is told:
        :class:`InputError` or :class:`EngineError`; ``where`` says by a task's number where the
        user asked for it. Stopped half-way, all that is finished is kept and not made again.
        """
        keys = [key_of(work, task) for task in tasks]
        missing = {key: task for key, task in zip(keys, tasks, strict=True) if not kept.has(key)}
        times = Counter(keys)
        on_done(sum(key not in missing for key in keys))
        if not missing:
            return keys
        executor = self._given or (None if self.count == 1 else self._pool())
        if executor is None:
            with _seldom_collecting():
                for key, task in missing.items():
                    _tell(_make(work, task, key, kept), where(keys.index(key)))
                    on_done(times[key])
        else:
            faulty, outcome = _spread(
                executor, work, missing, kept, lambda key: on_done(times[key])
            )
            _tell(outcome, where(keys.index(faulty)) if faulty else Place())
        return keys

    def _pool(self) -> Executor:
        if self._own is None:
            # PITFALL: a fork would copy the engines' threads and locks as they stand.
            self._own = ProcessPoolExecutor(
                self.count,
                mp_context=multiprocessing.get_context("spawn"),
                initializer=_settle_in,
            )
        return self._own


def _spread(
    executor: Executor,
    work: Work,
    missing: Mapping[str, object],
    kept: Kept,
    on_key: Callable[[str], None],
) -> tuple[str, _Outcome]:
    """Hand the tasks out; returns the key and the outcome of the first that failed, if any."""
    waiting = {executor.submit(_make, work, task, key, kept): key for key, task in missing.items()}
    try:
        for future in as_completed(waiting):
            if future.result()[0]:
                break
            on_key(waiting[future])
    except BrokenProcessPool as fault:
        raise EngineError(
            "a worker died; what was finished is kept, so run the command again"
        ) from fault
    finally:
        for future in waiting:
            future.cancel()
    told = ((waiting[f], f.result()) for f in waiting if not f.cancelled())
    return next(((key, outcome) for key, outcome in told if outcome[0]), ("", ("", "")))


def _make(work: Work, task: object, key: str, kept: Kept) -> _Outcome:
    """Do the work where it is not done yet. A fault travels as text: an error with arguments of
    its own would not survive the way between processes."""
    try:
        if not kept.has(key):
            kept.put(key, work(task, kept))
    except ChangewrightError as fault:
        kind = "engine" if isinstance(fault, EngineError) else "input"
        return kind, str(fault)
    return "", ""


def _tell(outcome: _Outcome, where: Place) -> None:
    kind, message = outcome
    if kind == "engine":
        raise EngineError(message)
    if kind:
        raise InputError(message, where=where)


@contextmanager
def _seldom_collecting() -> Iterator[None]:
    """Look for garbage seldom: works make many small values and few cycles.

    Source: measured on exercises of a book, a quarter of the time saved.
    """
    before = gc.get_threshold()
    gc.set_threshold(_SELDOM, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


def _settle_in() -> None:
    """What a worker process does first: leave interrupts to the parent, and collect seldom."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.freeze()
    gc.set_threshold(_SELDOM, *gc.get_threshold()[1:])
