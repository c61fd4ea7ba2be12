"""Hear a player live: blocks of sound in, notes out, each a little after it has ended.

A note comes at most :data:`DELAY_S` of sound after its end. Only the last seconds are kept, however
long one plays. A note held for longer than :data:`HELD_S` comes in pieces.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from changewright.ear import _refine
from changewright.ear._engines import Engines, real_engines
from changewright.ear._sight import TICK_S, Sight
from changewright.ear._trellis import spans
from changewright.ear._watch import LATE_S, Watch
from changewright.ear.audio import Samples
from changewright.ear.profile import profile_of
from changewright.ear.take import HeardNote
from changewright.ear.transcribe import FAINT_DB, WORKING_PEAK
from changewright.theory.instrument import Instrument

__all__ = ["DELAY_S", "HELD_S", "Listener", "heard_live"]

_STEP = 64  # ticks: a look each .74 s
_SETTLE_S, _BLOCK_S = 0.3, 0.1
DELAY_S = _STEP * TICK_S + LATE_S + _SETTLE_S + _BLOCK_S
"""How much sound may pass between the end of a note and its coming out, seconds."""

_KEPT_S = 5.0
HELD_S = _KEPT_S - 1.5
"""The longest that a note is waited for, seconds."""

_QUIET = 1e-3  # a microphone that is switched on but hears nobody


class Listener:
    """Follows one player. Push blocks of mono float32 samples of any length; get notes, their times
    in seconds from the first sample pushed."""

    def __init__(
        self, rate: int, *, instrument: Instrument | None = None, engines: Engines | None = None
    ) -> None:
        self._rate = rate
        self._profile = profile_of(instrument)
        self._watch = Watch(rate, self._profile, engines or real_engines(), _STEP)
        self._waiting: list[Samples] = []
        self._said_s = 0.0  # up to where notes have been given out
        self._peak = _QUIET
        self._turns = 0j  # the running sum from which the tuning is told
        self._body_db = -120.0

    @property
    def kept_s(self) -> float:
        """How much of what was seen is held, seconds."""
        return self._watch.kept * TICK_S

    def push(self, block: Samples) -> list[HeardNote]:
        """The notes that are settled now that ``block`` has been heard."""
        found: list[HeardNote] = []
        hop = round(_BLOCK_S * self._rate)
        for first in range(0, len(block), hop):
            self._waiting.append(np.asarray(block[first : first + hop], dtype=np.float32))
            if sum(map(len, self._waiting)) >= hop:
                found += self._look()
        return found

    def finish(self) -> list[HeardNote]:
        """The notes that are left when the player stops."""
        found = self._look()
        seen = self._watch.ticks
        self._watch.finish(self._gain)
        return found + self._heard(self._watch.ticks - seen, last=True)

    @property
    def _gain(self) -> float:
        return WORKING_PEAK / self._peak

    def _look(self) -> list[HeardNote]:
        fresh = np.concatenate([*self._waiting, np.zeros(0, dtype=np.float32)])
        self._waiting = []
        if len(fresh):
            self._peak = max(self._peak, float(np.percentile(np.abs(fresh), 99.9)))
        seen = self._watch.ticks
        self._watch.push(fresh, self._gain)
        new = self._watch.ticks - seen
        return self._heard(new, last=False) if new else []

    def _heard(self, new: int, *, last: bool) -> list[HeardNote]:
        """What the last seconds say, and what of it is settled."""
        ticks = self._watch.ticks
        first = max(0, ticks - round(_KEPT_S / TICK_S))
        heard = []
        if self._peak > _QUIET:
            heard = self._decided(self._watch.sight(first, ticks, self._gain), new, first * TICK_S)
        self._watch.forget(first)
        now = ticks * TICK_S
        settled = now if last else now - _SETTLE_S
        given = [n for n in map(self._rest_of, heard) if n is not None]
        ready = [n for n in given if n.end_s <= settled or n.onset_s <= now - HELD_S]
        told = [self._told(n, settled) for n in ready]
        return [n for n in told if n.loudness_db > self._body_db - FAINT_DB]

    def _decided(self, sight: Sight, new: int, shift_s: float) -> list[HeardNote]:
        clear = (sight.voicing > 0.8) & (sight.level_db > -45)
        clear[: len(clear) - new] = False
        self._turns += np.exp(2j * np.pi * sight.pitch[clear]).sum()
        tuning = float(np.angle(self._turns) / (2 * np.pi)) if abs(self._turns) > 10 else 0.0
        quieter = float(20 * np.log10(self._gain))
        found = _refine.notes(spans(sight, self._profile, tuning), sight, self._profile, tuning)
        return [
            replace(
                n,
                onset_s=n.onset_s + shift_s,
                end_s=n.end_s + shift_s,
                loudness_db=n.loudness_db - quieter,
            )
            for n in found
        ]

    def _rest_of(self, note: HeardNote) -> HeardNote | None:
        """What of a note has not been given out yet."""
        if note.onset_s >= self._said_s - 0.03:
            return note
        left = note.end_s - self._said_s
        return replace(note, onset_s=self._said_s) if left > 0.2 else None

    def _told(self, note: HeardNote, settled: float) -> HeardNote:
        """Give a note out: nothing before its end is given again."""
        end = max(note.onset_s + 0.01, min(note.end_s, settled))
        onset = min(max(note.onset_s, self._said_s), end - 0.005)
        self._said_s = max(self._said_s, end)
        self._body_db = max(self._body_db - 0.2, note.loudness_db)
        return replace(note, onset_s=onset, end_s=end)


def heard_live(
    blocks: Iterable[Samples],
    rate: int,
    *,
    instrument: Instrument | None = None,
    engines: Engines | None = None,
) -> Iterator[HeardNote]:
    """The notes of a stream of blocks, each as soon as it is settled."""
    listener = Listener(rate, instrument=instrument, engines=engines)
    for block in blocks:
        yield from listener.push(block)
    yield from listener.finish()
