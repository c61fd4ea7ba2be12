"""What is kept because it can be made again: how much there is, and to be rid of it."""

from dataclasses import dataclass
from pathlib import Path

from changewright.jobs.kept import Kept
from changewright.usecases.stems import stem_shelf

__all__ = ["Held", "empty_cache", "held_in"]


@dataclass(frozen=True, slots=True)
class Held:
    """How many stems and results of books a folder of finished work holds, and their bytes."""

    stems: int
    stem_bytes: int
    results: int
    result_bytes: int


def held_in(folder: Path) -> Held:
    """What a folder of finished work holds."""
    return Held(*stem_shelf(folder).size, *Kept(folder).size)


def empty_cache(folder: Path) -> Held:
    """Throw all finished work away; returns what there was. Nobody's own files lie there."""
    held = held_in(folder)
    stem_shelf(folder).empty()
    Kept(folder).trim(most_bytes=-1)
    return held
