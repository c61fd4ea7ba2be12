"""A book's tracks: the band once for all exercises over one chart in one key and tempo.

Apart from the pages, so that a change to how the band sounds leaves the pages as they are.
"""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from changewright.jobs.kept import Kept
from changewright.usecases.book_work import band_over, read_changes
from changewright.usecases.stems import stem_shelf, stems_into

__all__ = ["TrackTask", "sound_track"]


@dataclass(frozen=True, slots=True)
class TrackTask:
    """The band over a chart in a key."""

    chart: str
    key: str
    level: int
    seed: int
    tempo_bpm: int


def sound_track(task: TrackTask, kept: Kept) -> Mapping[str, bytes]:
    """The band alone, for all exercises over one chart in one key and tempo; part ``flac``.

    A result is made anew with every version of the program; the sound itself only where the music
    or the sounding has changed, since stems are kept by that alone.
    """
    form, reading = read_changes(task.chart, task.key)
    band = band_over(reading, task.tempo_bpm, form.feel, task.seed, task.level)
    with tempfile.TemporaryDirectory() as folder:
        (*_, mix), _ = stems_into(Path(folder), band, stem_shelf(kept.folder))
        return {"flac": mix.read_bytes()}
