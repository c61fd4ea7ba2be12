"""The notes of a solo, each with its place in the chorus and the change it belongs to."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.reading.model import ReadChange, Reading

__all__ = ["ON_BEAT", "SURE", "SoloNote", "bar_of", "laid_out", "some_bars"]

SURE = 0.7
_TOLD = 6  # bars named in a detail
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
    starts = [(n, _straight(n.onset_s - latency_s, clock)) for n in take.notes]
    kept = [(n, at) for n, at in starts if at > -ANTICIPATION]
    usual = _usual([at for _, at in kept])
    solo: list[SoloNote] = []
    for note, start in kept:
        end = _straight(note.end_s - latency_s, clock) - usual
        solo.append(_placed(note, start, end, usual, reading, clock, solo))
    return solo


def _straight(at_s: float, clock: Clock) -> float:
    """Quarters from the first bar, swing left in."""
    return at_s / clock.quarter_s - float(clock.lead_in)


def _placed(
    note: HeardNote,
    start: float,
    end: float,
    usual: float,
    reading: Reading,
    clock: Clock,
    before: list[SoloNote],
) -> SoloNote:
    at = start - usual
    change, last = _change(reading, at), before[-1] if before else None
    new_phrase = last is not None and at - last.end > PHRASE_GAP
    beat = round(at)
    return SoloNote(
        at=at,
        end=end,
        midi=note.midi,
        cents=note.cents,
        length_s=note.length_s,
        sure=note.confidence >= SURE,
        beat=beat,
        offset_beats=at - beat,
        lateness_s=(start - beat) * clock.quarter_s,
        change=change,
        lands=last is not None and change.change.chord != last.change.change.chord,
        phrase=(last.phrase if last else 0) + new_phrase,
    )


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


def bar_of(note: SoloNote, reading: Reading) -> int:
    """The bar of the form, from 1, in which a note lies."""
    base = reading.bars[0].start
    length = float(reading.bars[-1].end - base)
    at = float(base) + (max(0.0, note.at) + 0.15) % length
    return next((b.number for b in reading.bars if b.start <= at < b.end), 1)


def some_bars(numbers: Sequence[int]) -> str:
    """The first few bars by number; that there are more is said."""
    more = " and more" if len(numbers) > _TOLD else ""
    return ", ".join(map(str, numbers[:_TOLD])) + more
