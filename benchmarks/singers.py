"""Two real singers, each with the notes that two musicians wrote down independently.

Their notes lie in ``sung/`` with their source and licence. The recordings, nine and twelve seconds,
are not shipped: ``tools/sung.sh`` fetches them from the package index, where they come with the
source distribution of a library by the dataset's authors. ``CHANGEWRIGHT_SUNG`` names the folder if
it is not where that script puts them.

One recording is for development; the other has been used for no fitting.
"""

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from math import log2
from pathlib import Path

from changewright.ear.audio import Audio, load_audio

__all__ = ["CLIPS", "Clip", "Written", "clips"]

FOLDER = Path(os.environ.get("CHANGEWRIGHT_SUNG", Path(sys.prefix, "share", "sung")))

Written = list[tuple[float, float, float]]
"""Notes as (onset, end, MIDI number with its fraction)."""

CLIPS = {"development": (10, "baritone voice"), "test": (14, "alto voice")}
"""What each recording is for: its number in the dataset, and the voice as whom it is heard."""


@dataclass(frozen=True, slots=True)
class Clip:
    """A recording, the voice as whom it is heard, and what each of two musicians wrote down."""

    use: str
    player: str
    audio: Audio
    annotators: tuple[Written, Written]


def clips(*uses: str) -> Iterator[Clip]:
    """The recordings for these uses (all if none is named) that are here."""
    for use in uses or CLIPS:
        number, player = CLIPS[use]
        sound = FOLDER / f"vocadito_{number}.wav"
        if sound.is_file():
            yield Clip(use, player, load_audio(sound), (_notes(number, "A1"), _notes(number, "A2")))


def _notes(number: int, annotator: str) -> Written:
    file = Path(__file__).parent / "sung" / f"vocadito_{number}_notes{annotator}.csv"
    rows = [map(float, line.split(",")) for line in file.read_text(encoding="ascii").splitlines()]
    return [(onset, onset + length, 69 + 12 * log2(hertz / 440)) for onset, hertz, length in rows]
