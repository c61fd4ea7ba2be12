"""Hear a player live: blocks of sound in, notes out, each a little after it has ended.

A note comes at most :data:`DELAY_S` of sound after its end. Only the last seconds are kept, however
long one plays. A note held for longer than :data:`HELD_S` comes in pieces.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from changewright.ear import _refine
from changewright.ear._engines import Engines, real_engines
from changewright.ear._sight import TICK_S, look
from changewright.ear._trellis import spans
from changewright.ear.audio import Audio, Samples
from changewright.ear.profile import profile_of
from changewright.ear.take import HeardNote
from changewright.ear.transcribe import FAINT_DB, WORKING_PEAK
from changewright.theory.instrument import Instrument

__all__ = ["DELAY_S", "HELD_S", "Listener", "heard_live"]

_HOP_S, _SETTLE_S = 1.0, 0.4
DELAY_S = _HOP_S + _SETTLE_S
"""How much sound may pass between the end of a note and its coming out, seconds."""

_KEPT_S = 6.0
HELD_S = _KEPT_S - DELAY_S - 0.2
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
        self._engines = engines or real_engines()
        self._kept = np.zeros(0, dtype=np.float32)
        self._start = 0  # the sample at which what is kept begins
        self._fresh = 0  # samples since the last look
        self._said_s = 0.0  # up to where notes have been given out
        self._peak = _QUIET
        self._turns = 0j  # the running sum from which the tuning is told
        self._body_db = -120.0

    @property
    def kept_s(self) -> float:
        """How much sound is held, seconds."""
        return len(self._kept) / self._rate

    def push(self, block: Samples) -> list[HeardNote]:
        """The notes that are settled now that ``block`` has been heard."""
        found: list[HeardNote] = []
        hop = round(_HOP_S * self._rate)
        for first in range(0, len(block), hop):
            piece = np.asarray(block[first : first + hop], dtype=np.float32)
            self._kept = np.concatenate([self._kept, piece])
            self._fresh += len(piece)
            if self._fresh >= hop:
                found += self._look(last=False)
        return found

    def finish(self) -> list[HeardNote]:
        """The notes that are left when the player stops."""
        return self._look(last=True) if len(self._kept) else []

    def _look(self, *, last: bool) -> list[HeardNote]:
        self._fresh = 0
        self._peak = max(self._peak, float(np.percentile(np.abs(self._kept), 99.9)))
        heard = self._heard(WORKING_PEAK / self._peak) if self._peak > _QUIET else []
        now = self._start / self._rate + self.kept_s
        settled = now if last else now - _SETTLE_S
        given = [n for n in map(self._rest_of, heard) if n is not None]
        ready = [n for n in given if n.end_s <= settled or n.onset_s <= now - HELD_S - _SETTLE_S]
        told = [self._told(n, settled) for n in ready]
        self._forget()
        return [n for n in told if n.loudness_db > self._body_db - FAINT_DB]

    def _heard(self, gain: float) -> list[HeardNote]:
        sight = look(Audio(self._kept, self._rate), self._profile, self._engines, gain)
        clear = (sight.voicing > 0.8) & (sight.level_db > -45)
        fresh = clear[-round(_HOP_S / TICK_S) :]
        self._turns += np.exp(2j * np.pi * sight.pitch[-len(fresh) :][fresh]).sum()
        tuning = float(np.angle(self._turns) / (2 * np.pi)) if abs(self._turns) > 10 else 0.0
        shift, quieter = self._start / self._rate, float(20 * np.log10(gain))
        return [
            replace(
                n,
                onset_s=n.onset_s + shift,
                end_s=n.end_s + shift,
                loudness_db=n.loudness_db - quieter,
            )
            for n in _refine.notes(
                spans(sight, self._profile, tuning), sight, self._profile, tuning
            )
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

    def _forget(self) -> None:
        """Drop what no later note can need, in whole ticks, so that the grid stays where it is."""
        tick = round(TICK_S * self._rate)
        spare = max(0, len(self._kept) - round((_KEPT_S - _HOP_S) * self._rate)) // tick * tick
        self._kept = self._kept[spare:]
        self._start += spare


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
