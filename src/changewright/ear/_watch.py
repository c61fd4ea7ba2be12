"""Collect the evidence of a recording block by block, as it comes in.

The same watch serves a file read whole, a take that is still being recorded and the live picture;
what it has seen of a stretch of sound does not depend on how the sound was cut into blocks.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from changewright.ear._engines import (
    ONSET_HOP,
    ONSET_RATE,
    ONSET_WINDOW,
    PITCH_AHEAD,
    PITCH_BEHIND,
    PITCH_HOP,
    PITCH_RATE,
    Engines,
)
from changewright.ear._sight import (
    FINE,
    FINE_S,
    FLOOR_DB,
    TICK_S,
    Floats,
    Flux,
    Sight,
    even_db,
    keys_of,
    level_db,
)
from changewright.ear._streams import HighPass, Resampler
from changewright.ear._tape import pieces
from changewright.ear.profile import Profile
from changewright.ear.take import KEYS

__all__ = ["LATE_S", "STEP", "Watch"]

EDGE = 15  # ticks at an onset window's edge that the model can't see well
STEP = ONSET_WINDOW // ONSET_HOP - 2 * EDGE
"""The most ticks that one onset window tells."""

_AHEAD = ONSET_WINDOW - (STEP + EDGE) * ONSET_HOP + 2 * ONSET_HOP
"""Samples after a step's last tick that must be known to see it: however short the step, its
window reaches no further on, but further back."""

LATE_S = (_AHEAD + ONSET_HOP) / ONSET_RATE + 0.01
"""How far behind the last sample the last tick lies that can be seen, at most (the resamplers hold
a little back)."""

_PIECE_S = 4.0
"""How much sound is looked at in one go, seconds: what the networks need beside grows with it."""

_RUMBLE_HZ = 35  # no note lies below
_QUIET = 1e-3  # 54 dB under the working level
_CALM = 3e-4
_HINT = 0.15  # the onset model answers .1 where it hears nothing
_KEPT = (STEP + EDGE + 3) * ONSET_HOP


@dataclass(frozen=True, slots=True)
class _Seen:
    """What was seen of a run of ticks; the posteriors in half precision, for an hour must fit."""

    pitch: Floats
    voicing: Floats
    onset: np.ndarray
    note: np.ndarray
    rise: Floats
    fine_db: Floats
    even_db: Floats


class Watch:
    """Push mono float32 samples at ``rate``, with the gain that brings them to working level."""

    def __init__(self, rate: int, profile: Profile, engines: Engines, step: int = STEP) -> None:
        self._profile, self._engines, self._step = profile, engines, step
        self._piece = round(_PIECE_S * rate)
        self._widen, self._narrow = Resampler(rate, ONSET_RATE), Resampler(ONSET_RATE, PITCH_RATE)
        self._calm = HighPass(ONSET_RATE, _RUMBLE_HZ)
        self._wide = np.zeros(_KEPT, dtype=np.float32)  # silence before the first sample
        self._wide_start = -_KEPT
        self._thin = np.zeros(0, dtype=np.float32)
        self._thin_frame = 0  # the pitch frame at which what is held begins
        self._hertz: list[Floats] = []
        self._voiced: list[Floats] = []
        self._frames = 0
        self._noise = np.random.default_rng(0)
        self._flux = Flux()
        self._seen: list[_Seen] = []
        self._first = 0  # the tick at which what is remembered begins
        self._ticks = 0

    @property
    def ticks(self) -> int:
        """How many ticks have been seen."""
        return self._ticks

    @property
    def kept(self) -> int:
        """How many ticks are remembered."""
        return self._ticks - self._first

    def push(self, samples: Floats, gain: float) -> None:
        """Look at as much as can be seen now."""
        for piece in pieces(samples, self._piece):
            self._push(piece, gain)

    def _push(self, samples: Floats, gain: float) -> None:
        self._hold(self._calm.push(self._widen.push(samples)), gain)
        known = (self._wide_start + len(self._wide) - _AHEAD) // ONSET_HOP
        self._look((known - self._ticks) // self._step * self._step, last=False, gain=gain)

    def finish(self, gain: float) -> None:
        """Look at the rest; after the last sample comes silence."""
        self._hold(self._calm.push(self._widen.flush()), gain)
        whole = self._wide_start + len(self._wide)
        self._thin = np.concatenate([self._thin, self._heard_thin(self._narrow.flush(), gain)])
        self._wide = np.pad(self._wide, (0, ONSET_WINDOW + _AHEAD))
        self._look(max(1, whole // ONSET_HOP) - self._ticks, last=True, gain=gain)

    def contour(self) -> tuple[Floats, Floats, Floats, NDArray[np.uint8]]:
        """Pitch (MIDI), voicing, level (under full scale) and notes in hundredths of every tick
        that is remembered."""
        pitch, voicing, fine = (
            np.concatenate([getattr(seen, name) for seen in self._seen])
            for name in ("pitch", "voicing", "fine_db")
        )
        keys, at = np.empty((len(pitch), KEYS), dtype=np.uint8), 0  # of an hour not twice
        for seen in self._seen:
            keys[at : at + len(seen.note)] = np.round(100 * seen.note)
            at += len(seen.note)
        return pitch, voicing, fine.reshape(-1, FINE).max(axis=1), keys

    def sight(self, first: int, last: int, gain: float) -> Sight:
        """The evidence of ticks ``first`` to ``last``, half-open, brought to working level."""
        low, high = first - self._first, last - self._first

        def of(name: str, size: int = 1) -> Floats:
            parts = [getattr(seen, name) for seen in self._seen]
            lengths = np.cumsum([0] + [len(p) // size for p in parts])
            here = [
                p[size * max(0, low - a) : size * max(0, high - a)]
                for p, a, b in zip(parts, lengths, lengths[1:], strict=False)
                if a < high and b > low
            ]
            return np.concatenate(here).astype(np.float32, copy=False)

        level = np.maximum(of("fine_db", FINE) + np.float32(20 * np.log10(gain)), FLOOR_DB)
        return Sight.of(
            of("pitch"),
            of("voicing"),
            of("onset"),
            of("note"),
            of("rise"),
            level,
            of("even_db"),
        )

    def forget(self, before: int) -> None:
        """Drop what was seen before a tick."""
        while self._seen and self._first + len(self._seen[0].pitch) <= before:
            self._first += len(self._seen.pop(0).pitch)

    def _hold(self, wide: Floats, gain: float) -> None:
        self._wide = np.concatenate([self._wide, wide])
        self._thin = np.concatenate([self._thin, self._heard_thin(self._narrow.push(wide), gain)])

    def _heard_thin(self, thin: Floats, gain: float) -> Floats:
        """PITFALL: the pitch network answers digital silence at random; a little noise calms it."""
        noise = self._noise.standard_normal(len(thin)).astype(np.float32)
        return np.asarray(thin * np.float32(gain) + noise * np.float32(_CALM), dtype=np.float32)

    def _look(self, count: int, *, last: bool, gain: float) -> None:
        if count <= 0:
            return
        starts = range(self._ticks, self._ticks + count, self._step)
        with ThreadPoolExecutor(2) as pool:
            pitched = pool.submit(self._follow_pitch, last)
            posteriors = list(pool.map(lambda tick: self._posteriors(tick, gain), starts))
            pitched.result()
        pitch, voicing = self._pitch(self._ticks, count)
        onset, note = (np.concatenate([p[k] for p in posteriors])[:count] for k in (0, 1))
        self._seen.append(
            _Seen(
                pitch,
                voicing,
                onset.astype(np.float16),
                note.astype(np.float16),
                self._flux.push(self._slice(*Flux.span(self._ticks, count)) * gain, count),
                level_db(self._slice(*_level_span(self._ticks, count)), count * FINE),
                self._even(pitch, note),
            )
        )
        self._ticks += count
        spare = max(0, self._ticks * ONSET_HOP - _KEPT - self._wide_start)
        self._wide, self._wide_start = self._wide[spare:], self._wide_start + spare

    def _even(self, pitch: Floats, note: Floats) -> Floats:
        """See :func:`even_db`; asked only where the onset model hears the octave above, too."""
        above = keys_of(pitch + 12)
        maybe = note[np.arange(len(pitch)), above] > _HINT
        around = self._slice(*Flux.span(self._ticks, len(pitch)))
        return even_db(around, np.float32(440) * np.exp2((pitch - 69) / 12), maybe)

    def _slice(self, first: int, last: int) -> Floats:
        return self._wide[first - self._wide_start : last - self._wide_start]

    def _posteriors(self, tick: int, gain: float) -> tuple[Floats, Floats]:
        """Onsets and notes of the ticks of one step; where next to nothing sounds, no network is
        asked."""
        lead = EDGE + STEP - self._step
        first = (tick - lead) * ONSET_HOP
        window = self._slice(first, first + ONSET_WINDOW) * np.float32(gain)
        if float(np.abs(window).max()) < _QUIET:
            nothing = np.zeros((self._step, 88), dtype=np.float32)
            return nothing, nothing
        onset, note = self._engines.posteriors(window)
        here = slice(lead, lead + self._step)
        return onset[here], note[here]

    def _follow_pitch(self, last: bool) -> None:
        """Ask for the pitch of every frame whose surroundings are known."""
        known = self._thin_frame + max(1, len(self._thin) // PITCH_HOP)
        stop = known if last else known - PITCH_AHEAD
        fresh = stop - self._frames
        if fresh <= 0:
            return
        thin = self._thin if len(self._thin) else np.zeros(PITCH_HOP, dtype=np.float32)
        hertz, voiced = self._engines.pitch(thin, *self._profile.limits_hz)
        here = slice(self._frames - self._thin_frame, stop - self._thin_frame)
        self._hertz.append(hertz[here])
        self._voiced.append(voiced[here])
        self._frames = stop
        spare = max(0, stop - PITCH_BEHIND - self._thin_frame)
        self._thin, self._thin_frame = self._thin[spare * PITCH_HOP :], self._thin_frame + spare

    def _pitch(self, tick: int, count: int) -> tuple[Floats, Floats]:
        """Pitch (MIDI) by the nearest frame and voicing between frames, by tick."""
        hertz, voiced = _joined(self._hertz), _joined(self._voiced)
        start = self._frames - len(hertz)
        at = (tick + np.arange(count)) * TICK_S / (PITCH_HOP / PITCH_RATE) - start
        near = np.clip(np.round(at).astype(int), 0, len(hertz) - 1)
        midi = 69 + 12 * np.log2(np.maximum(hertz, 1e-3) / 440)
        spare = max(0, int(at[-1]) - 1)
        self._hertz, self._voiced = [hertz[spare:]], [voiced[spare:]]
        voicing = np.interp(at, np.arange(len(voiced)), voiced)
        return midi[near].astype(np.float32), voicing.astype(np.float32)


def _joined(parts: Sequence[Floats]) -> Floats:
    return np.concatenate(parts) if len(parts) != 1 else parts[0]


def _level_span(tick: int, count: int) -> tuple[int, int]:
    hop = round(FINE_S * ONSET_RATE)
    return tick * ONSET_HOP - 2 * hop, (tick + count) * ONSET_HOP + 2 * hop
