"""Music as pages show it, read and engraved once: an exercise that lies in a lesson folder never
changes, and a class opens the same page at the same moment."""

from functools import lru_cache
from pathlib import Path
from typing import Any

from changewright.page import screen_svg
from changewright.usecases.lesson_folder import Assignment, load_assignment, load_manifest

__all__ = ["assignment_of", "manifest_of", "systems_of"]

_KEPT = 256


@lru_cache(_KEPT)
def assignment_of(folder: Path, number: int) -> Assignment:
    """An exercise of a lesson folder; raises :class:`LessonError`."""
    return load_assignment(folder, number)


@lru_cache(_KEPT)
def manifest_of(folder: Path) -> dict[str, Any]:
    """A lesson folder's manifest, to be looked at and not changed; raises :class:`LessonError`."""
    return load_manifest(folder)


@lru_cache(_KEPT)
def systems_of(folder: Path, number: int, bars: int = 4) -> tuple[str, ...]:
    """The systems of an exercise with so many bars in each, as SVG."""
    return screen_svg(assignment_of(folder, number).sheet, bars_a_system=bars)
