"""The notes of a solo, each with its place in the chorus and the change it belongs to."""

from dataclasses import dataclass

import numpy as np

from changewright.ear.take import Take
from changewright.music.clock import Clock
from changewright.reading.model import ReadChange, Reading

__all__ = ["ON_BEAT", "SURE", "SoloNote", "laid_out"]

SURE = 0.7
ON_BEAT = 0.17  # of a beat: nearer than this to a beat is on it
ANTICIPATION = 0.5  # quarters: an eighth before a change belongs to the chord to come


@dataclass(frozen=True, slots=True)
class SoloNote:
    """``at`` and ``end`` are straight quarters from the first bar (through all choruses) at the
    player's own place; ``lateness_s`` is measured from the nearest beat before that was removed.
    ``change`` is the change it belongs to, ``lands`` is True for the first note under a new
    chord; ``phrase`` counts phrases."""

    at: float
    end: float
    midi: int
    cents: float
    length_s: float
    sure: bool
    beat: int
    offset_beats: float
    lateness_s: float
    change: ReadChange
    lands: bool
    phrase: int

    @property
    def on_beat(self) -> bool:
        """It starts on a beat."""
        return abs(self.offset_beats) <= ON_BEAT

    @property
    def pc(self) -> int:
        """Its pitch class."""
        return self.midi % 12


PHRASE_GAP = 0.75  # quarters of rest that end a phrase; Source: common practice, no source


def laid_out(take: Take, reading: Reading, clock: Clock, latency_s: float) -> list[SoloNote]:
    """Every note from the first bar on, the player's usual lateness removed."""
    lead = float(clock.lead_in)
    raw = [
        (
            (n.onset_s - latency_s) / clock.quarter_s - lead,
            (n.end_s - latency_s) / clock.quarter_s - lead,
            n,
        )
        for n in take.notes
    ]
    raw = [item for item in raw if item[0] > -ANTICIPATION]
    usual = _usual([at for at, _, _ in raw])
    solo: list[SoloNote] = []
    phrase, ended, before = 0, -1e9, None
    for start, end, note in raw:
        at = start - usual
        change = _change(reading, at)
        phrase += ended > -1e8 and start - ended > PHRASE_GAP
        beat = round(at)
        solo.append(
            SoloNote(
                at,
                end - usual,
                note.midi,
                note.cents,
                note.length_s,
                note.confidence >= SURE,
                beat,
                at - beat,
                (start - beat) * clock.quarter_s,
                change,
                before is not None
                and change.change != before.change
                and change.change.chord != before.change.chord,
                phrase,
            )
        )
        ended, before = end, change
    return solo


def _usual(onsets: list[float]) -> float:
    """How late the notes near beats lie in the middle, in beats."""
    off = np.array([at - round(at) for at in onsets])
    near = off[np.abs(off) < 0.25]
    return float(np.median(near)) if len(near) >= 5 else 0.0


def _change(reading: Reading, at: float) -> ReadChange:
    """The change a note belongs to; an eighth before the next one belongs to the next."""
    base = float(reading.bars[0].start)
    length = float(reading.bars[-1].end) - base
    early = base + (at + ANTICIPATION * 0.9) % length
    here = base + at % length
    coming = _at(reading, early)
    now = _at(reading, here)
    offbeat = at - np.floor(at) > 0.4
    return coming if offbeat and coming.change.chord != now.change.chord else now


def _at(reading: Reading, where: float) -> ReadChange:
    found = [c for c in reading.changes if float(c.change.onset) <= where + 0.12]
    return found[-1] if found else reading.changes[0]
