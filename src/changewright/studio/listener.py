"""Takes are listened to in a process of their own, bounded in time and memory.

A recording comes from a stranger. Should its decoder hang, eat memory or fall over, the process
goes and the studio stays.
"""

import multiprocessing
import sys
from concurrent.futures import Future, ProcessPoolExecutor, TimeoutError
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from threading import Lock
from typing import Any

from changewright.errors import ChangewrightError, TakeError

__all__ = ["LONGEST_S", "MOST_MEMORY", "Listener"]

LONGEST_S = 120.0
"""How long one take may be listened to, in seconds."""

MOST_MEMORY = 6 * 2**30
"""How many bytes of address space the process may ask for."""


class Listener:
    """One warm process that hears takes, one after another; it is replaced where it dies."""

    def __init__(self, longest_s: float = LONGEST_S, most_memory: int = MOST_MEMORY) -> None:
        self._longest_s, self._most_memory = longest_s, most_memory
        self._pool: ProcessPoolExecutor | None = None
        self._lock = Lock()

    def warm(self) -> None:
        """Start the process and its engines before the first take comes."""
        self._submit(_warm)

    def hear(self, take: Path, lesson: Path, exercise: int) -> dict[str, Any]:
        """The hearing's document of a take; raises :class:`TakeError` for one that can't be heard.
        Blocks until it is done."""
        future = self._submit(_hear, take, lesson, exercise)
        try:
            fault, document = future.result(self._longest_s)
        except (TimeoutError, BrokenProcessPool) as stopped:
            self.close()
            raise TakeError(
                "listening to this recording took more time or memory than a take may",
                remedy="Record one chorus of one instrument, and send it as WAV or FLAC.",
            ) from stopped
        if fault:
            raise TakeError(fault)
        heard: dict[str, Any] = document
        return heard

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

    def _submit(self, work: Any, *told: object) -> Future[Any]:
        """PITFALL: a process that died since the last take is only noticed now."""
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
                    mp_context=multiprocessing.get_context("spawn"),
                    initializer=_bound,
                    initargs=(self._most_memory,),
                )
            return self._pool


def _bound(most_memory: int) -> None:
    """PITFALL: not every system bounds address space; where it doesn't, only time is bounded."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if sys.platform == "linux":
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (most_memory, most_memory))


def _warm() -> tuple[str, dict[str, Any]]:
    import numpy as np

    from changewright.ear.audio import Audio
    from changewright.ear.transcribe import transcribe
    from changewright.theory.instrument import instrument

    silence = Audio(np.zeros(24_000, dtype=np.float32), 24_000)
    try:
        transcribe(silence, instrument=instrument("flute"))
    except ChangewrightError as fault:
        return str(fault), {}
    return "", {}


def _hear(take: Path, lesson: Path, exercise: int) -> tuple[str, dict[str, Any]]:
    """A fault travels as text: an error with arguments of its own would not survive the way."""
    from changewright.ear.document import hearing_document
    from changewright.usecases.hear import hear_take

    try:
        return "", hearing_document(hear_take(take, lesson, exercise))
    except TakeError as fault:
        return f"{fault.what}. {fault.remedy}".strip(), {}
    except ChangewrightError as fault:
        return str(fault), {}
