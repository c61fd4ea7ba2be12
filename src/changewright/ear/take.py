"""A take: the notes that were heard, and how sure the listener is of each."""

from dataclasses import dataclass, field
from math import log2

import numpy as np
from numpy.typing import NDArray

__all__ = ["KEYS", "LOWEST_KEY", "Contour", "HeardNote", "Take"]

LOWEST_KEY, KEYS = 21, 88
"""A0 and up to C8: the notes that are listened for one by one."""


@dataclass(frozen=True, slots=True, order=True)
class HeardNote:
    """One note as heard.

    ``onset_s`` and ``end_s`` are seconds from the first sample; ``pitch`` is a MIDI number with
    its fraction (69.0 is 440 Hz); ``cents`` is how far that lies from the nearest semitone *of the
    take's own tuning*; ``loudness_db`` is the level of the note's body under full scale;
    ``confidence`` is the chance that the note is there with this pitch, 0 to 1.
    """

    onset_s: float
    end_s: float
    pitch: float
    cents: float
    loudness_db: float
    confidence: float

    def __post_init__(self) -> None:
        if not 0 <= self.onset_s < self.end_s:
            raise ValueError(f"a note lasts: {self.onset_s} to {self.end_s} s")
        if not 0 <= self.confidence <= 1:
            raise ValueError(f"a confidence lies in 0 to 1, not {self.confidence}")

    @property
    def midi(self) -> int:
        """The nearest note number in the take's tuning."""
        return round(self.pitch - self.cents / 100)

    @property
    def pc(self) -> int:
        """The pitch class heard, C = 0."""
        return self.midi % 12

    @property
    def length_s(self) -> float:
        """How long it sounds."""
        return self.end_s - self.onset_s


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """Pitch and level over time, one frame each ``hop_s`` seconds.

    ``pitch`` is a MIDI number with its fraction, ``voicing`` the chance that a pitched note sounds
    (0 to 1), ``level_db`` the level under full scale. ``keys`` is the chance that each note from A0
    to C8 sounds, whoever plays it, in hundredths: shape (frames, 88). Where no contour is known (a
    MIDI recording) the arrays are empty, and so is ``keys`` where it is not known.
    """

    hop_s: float
    pitch: NDArray[np.float32]
    voicing: NDArray[np.float32]
    level_db: NDArray[np.float32]
    keys: NDArray[np.uint8] = field(default_factory=lambda: np.zeros((0, KEYS), dtype=np.uint8))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Contour):
            return NotImplemented
        same = all(
            np.array_equal(mine, theirs)
            for mine, theirs in (
                (self.pitch, other.pitch),
                (self.voicing, other.voicing),
                (self.level_db, other.level_db),
            )
        )
        return self.hop_s == other.hop_s and same and np.array_equal(self.keys, other.keys)

    def __len__(self) -> int:
        return len(self.pitch)


def _no_contour() -> Contour:
    nothing = np.zeros(0, dtype=np.float32)
    return Contour(0.01, nothing, nothing, nothing)


@dataclass(frozen=True, slots=True)
class Take:
    """What was heard: notes in order of onset, none overlapping.

    ``length_s`` is the recording's length; ``tuning_hz`` the A that the player (or the band)
    tuned to, measured over the take; ``background_db`` the level under which nothing can be told
    from the room; ``company`` the share of the time in which, while the player plays, somebody
    else's notes are clearly heard beside; ``source`` is ``"audio"`` or ``"midi"``.
    """

    notes: tuple[HeardNote, ...]
    length_s: float
    tuning_hz: float = 440.0
    background_db: float = -120.0
    company: float = 0.0
    source: str = "audio"
    contour: Contour = field(default_factory=_no_contour)

    def __post_init__(self) -> None:
        if self.length_s < 0:
            raise ValueError("a take has a length")
        onsets = [n.onset_s for n in self.notes]
        if onsets != sorted(onsets):
            raise ValueError("the notes of a take are in order of onset")

    @property
    def tuning(self) -> float:
        """The tuning as a shift from A = 440 Hz, semitones."""
        return 12 * log2(self.tuning_hz / 440)
