"""Where stems are kept, and how they come into a folder: sounded, or found again."""

from pathlib import Path

from changewright.jobs.kept import usual_folder
from changewright.music.performance import Performance
from changewright.sound.files import stream_stems
from changewright.sound.kept import StemShelf
from changewright.sound.loudness import Loudness

__all__ = ["stem_shelf", "stems_into"]

_SHELF = "stems"


def stem_shelf(cache: Path | None = None) -> StemShelf:
    """The shelf of stems in a folder of finished work; in the platform's own if none."""
    return StemShelf((cache or usual_folder()) / _SHELF)


def stems_into(
    folder: Path, performance: Performance, shelf: StemShelf | None, format: str = "flac"
) -> tuple[tuple[Path, ...], Loudness]:
    """Write a performance's stems to a folder, the mix last; returns them with their loudness.

    They come from the ``shelf`` where they lie there already; None sounds them anew and keeps
    nothing. Raises :class:`UnknownName` for a format that we don't write.
    """
    if shelf is None:
        return stream_stems(performance, folder, format)
    return shelf.write(performance, folder, format)
