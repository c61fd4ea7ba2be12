"""What F1 does not tell of notes heard: repeated notes, how far confidence can be believed, and
how long another pitch class is heard than sounds."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from changewright.ear.take import HeardNote

__all__ = ["Account", "account", "cut_in_two"]

Truth = Sequence[tuple[float, float, float]]
NEAR_S, NEAR = 0.05, 0.5
FRAME_S = 0.01
SPOKEN_S = 0.1
APART_S = 0.3  # further apart, two notes of one pitch are not a repetition


@dataclass(frozen=True, slots=True)
class Account:
    """Sums over takes: repeated notes and those found; (confidence, right) of each note heard;
    frames in which both the player and the listener have a note, and those of another class."""

    repeated: int = 0
    repeated_found: int = 0
    trusted: tuple[tuple[float, bool], ...] = ()
    frames: int = 0
    wrong_frames: int = 0

    def __add__(self, other: "Account") -> "Account":
        return Account(
            self.repeated + other.repeated,
            self.repeated_found + other.repeated_found,
            self.trusted + other.trusted,
            self.frames + other.frames,
            self.wrong_frames + other.wrong_frames,
        )

    def precision(self, coverage: float) -> float:
        """Of the surest share of the notes, how many are right."""
        ranked = sorted(self.trusted, reverse=True)
        best = ranked[: max(1, round(coverage * len(ranked)))]
        return sum(right for _, right in best) / max(1, len(best))

    @property
    def recall_of_repeated(self) -> float:
        """Of notes of the same pitch as the one just before, how many are found."""
        return self.repeated_found / max(1, self.repeated)

    @property
    def wrong_class(self) -> float:
        """Share of sounding time in which another pitch class is heard."""
        return self.wrong_frames / max(1, self.frames)


def account(truth: Truth, heard: Sequence[HeardNote]) -> Account:
    """Hold the notes heard of one take against its truth."""
    answered: dict[int, int] = {}  # heard note: true note
    for k, (onset, _, midi) in enumerate(truth):
        for j, note in enumerate(heard):
            near = abs(note.onset_s - onset) <= NEAR_S and abs(note.pitch - midi) <= NEAR
            if near and j not in answered:
                answered[j] = k
                break
    again = {
        k + 1
        for k, (one, other) in enumerate(pairwise(truth))
        if one[2] == other[2] and other[0] - one[1] < APART_S
    }
    end_s = max(end for _, end, _ in truth)
    sounds = _classes(truth, end_s)
    told = _classes([(n.onset_s, n.end_s, n.pitch) for n in heard], end_s)
    both = (sounds >= 0) & (told >= 0)
    return Account(
        len(again),
        len(again & set(answered.values())),
        tuple((n.confidence, j in answered) for j, n in enumerate(heard)),
        int(both.sum()),
        int((both & (sounds != told)).sum()),
    )


def cut_in_two(truth: Truth, held: Sequence[int], heard: Sequence[HeardNote]) -> int:
    """How many of the held notes (their places in ``truth``) are heard as two or more: another note
    begins in them, later than a tenth of a second after their onset."""
    spans = [truth[k][:2] for k in held]
    return sum(any(a + SPOKEN_S < n.onset_s < b - NEAR_S for n in heard) for a, b in spans)


def _classes(notes: Truth, end_s: float) -> NDArray[np.int_]:
    """The pitch class in each frame, -1 where nothing sounds."""
    frames = np.full(round(end_s / FRAME_S) + 1, -1)
    for onset, end, pitch in notes:
        frames[round(onset / FRAME_S) : round(end / FRAME_S)] = round(pitch) % 12
    return frames
