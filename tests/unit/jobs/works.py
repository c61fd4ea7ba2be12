"""Small works for the tests of jobs: top-level functions, so that worker processes find them."""

import os
from collections.abc import Mapping
from dataclasses import dataclass

from changewright.errors import EngineError, Refusal
from changewright.jobs.kept import Kept

__all__ = ["Sum", "add", "count_runs", "die", "refuse"]


@dataclass(frozen=True, slots=True)
class Sum:
    first: int
    second: int
    log: str = ""
    before: str = ""


def add(task: Sum, kept: Kept) -> Mapping[str, bytes]:
    held = int(kept.read(task.before, "sum")) if task.before else 0
    return {"sum": str(task.first + task.second + held).encode(), "by": str(os.getpid()).encode()}


def count_runs(task: Sum, kept: Kept) -> Mapping[str, bytes]:
    with open(task.log, "a") as log:
        log.write(f"{task.first}\n")
    return {"sum": b"0"}


def refuse(task: Sum, kept: Kept) -> Mapping[str, bytes]:
    if task.first == 2:
        raise Refusal(3, "1", ["range", "by step"])
    if task.first == 4:
        raise EngineError("the engraver drew nothing")
    return {"sum": b"0"}


def die(task: Sum, kept: Kept) -> Mapping[str, bytes]:
    os._exit(3)
