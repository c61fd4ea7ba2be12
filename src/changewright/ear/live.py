"""Listen while a take is being recorded, so that little is left to do when the player stops.

What takes time is looking at the sound; that happens as it comes in. When the take is over only its
last seconds are looked at, the notes decided and laid over the sheet.
"""

from dataclasses import replace

import numpy as np

from changewright.ear._engines import ONSET_RATE, Engines, real_engines
from changewright.ear._streams import Resampler
from changewright.ear._tape import Tape, pieces
from changewright.ear._watch import Watch
from changewright.ear.audio import Audio, Samples
from changewright.ear.lag import LATEST_S, Remover, at_rate, doubted, lag_of
from changewright.ear.profile import profile_of
from changewright.ear.take import Take
from changewright.ear.transcribe import decided, working_gain
from changewright.theory.instrument import Instrument

__all__ = ["LiveTake"]

_LOOK_S = 8.0
"""How much sound is waited for before it is looked at, seconds."""

_BLOCK_S = 60.0  # a file comes whole; it is taken in by so much

_OFF_DB = 8.0
"""How far the level may turn out to lie from what it was taken for, before all is looked at
again. Source: measured, benchmarks/bench_ear.py: the notes found don't change up to there."""


class LiveTake:
    """A take as it is being recorded. Push blocks of mono float32 samples of any length, the first
    sample being the play-along's own start; :meth:`finish` gives the take.

    ``backing`` is the play-along as the player hears it, ``count_in_s`` where its first bar begins.
    Where it can be heard in the count-in it gives the recording's lag and is taken out.
    """

    def __init__(
        self,
        rate: int,
        *,
        instrument: Instrument | None = None,
        backing: Audio | None = None,
        count_in_s: float = 0.0,
        engines: Engines | None = None,
    ) -> None:
        self._profile, self._engines = profile_of(instrument), engines or real_engines()
        self._widen = Resampler(rate, ONSET_RATE)
        self._band = None if backing is None else at_rate(backing)
        self._count_in_s = count_in_s
        self._rate, self._samples = rate, 0
        self._heard = Tape()  # at the working rate, as it came
        self._clean = self._heard if backing is None else Tape()  # the same without the band
        self._held: list[Samples] = []  # until the lag is known
        self._waiting: list[Samples] = []  # what of the clean sound has not been looked at
        self._remover: Remover | None = None
        self._lag: float | None = None
        self._is_settled = backing is None
        self._gains: list[float] = []
        self._watch = self._fresh()

    def push(self, block: Samples) -> None:
        """Hear more of it."""
        self._samples += len(block)
        for piece in pieces(block, round(_BLOCK_S * self._rate)):
            self._hear(self._widen.push(piece))
        if sum(map(len, self._waiting)) >= _LOOK_S * ONSET_RATE:
            self._look()

    def _hear(self, wide: Samples) -> None:
        self._heard.add(wide)
        if self._is_settled:
            self._take_in(wide)
            return
        self._held.append(wide)
        if len(self._heard) >= (self._count_in_s + LATEST_S) * ONSET_RATE:
            self._take_in(self._settle())

    def finish(self) -> tuple[Take, float | None]:
        """The take, and the recording's lag on the play-along where the count-in tells it."""
        self._hear(self._widen.flush())
        if not self._is_settled:
            self._take_in(self._settle())
        if self._remover is not None:
            self._kept(self._remover.finish())
        self._look()
        gain = self._gains[-1]
        if any(abs(20 * np.log10(g / gain)) > _OFF_DB for g in self._gains):
            self._watch = self._fresh()
            for block in self._clean:
                self._watch.push(block, gain)
        self._watch.finish(gain)
        take = decided(self._watch, self._profile, gain, self._samples / self._rate)
        if self._lag is None:
            return take, None
        take = doubted(take, self._heard, self._clean)
        return replace(take, company=0.0), self._lag  # what is left of the band is doubted already

    def _fresh(self) -> Watch:
        return Watch(ONSET_RATE, self._profile, self._engines)

    def _settle(self) -> Samples:
        """Find the lag in the count-in, and give back everything that was held until then."""
        self._is_settled = True
        whole = np.concatenate(self._held)
        self._held = []
        if self._band is not None:
            heard, band = (Audio(x, ONSET_RATE) for x in (whole, self._band))
            self._lag = lag_of(heard, band, self._count_in_s)
            if self._lag is not None:
                self._remover = Remover(self._band, self._lag)
        return whole

    def _take_in(self, wide: Samples) -> None:
        self._kept(wide if self._remover is None else self._remover.push(wide))

    def _kept(self, clean: Samples) -> None:
        if self._clean is not self._heard:
            self._clean.add(clean)
        self._waiting.append(clean)

    def _look(self) -> None:
        """PITFALL: the level of a take is not known before its end; it is taken for what it was so
        far."""
        gain = working_gain(self._clean, len(self._clean))
        self._gains.append(gain)
        self._watch.push(np.concatenate(self._waiting), gain)
        self._waiting = []
