"""How an instrument speaks: its range, whether its notes ring or are held, and what to expect."""

from dataclasses import dataclass

from changewright.theory.instrument import Instrument

__all__ = ["ANY", "Profile", "profile_of"]

_PLUCKED = {"guitar", "piano", "vibraphone", "double bass", "electric bass"}


@dataclass(frozen=True, slots=True)
class Profile:
    """What the listener may assume.

    ``low`` and ``high`` are concert MIDI numbers a little beyond the instrument's range;
    ``rings`` says that notes fade by themselves; ``sings`` asks for the voice's own way of telling
    notes, :mod:`changewright.ear._sung`, because a voice glides and swells within a note.
    """

    low: int
    high: int
    rings: bool = False
    sings: bool = False

    @property
    def limits_hz(self) -> tuple[float, float]:
        """The range in hertz, for the pitch tracker."""
        return 440 * 2 ** ((self.low - 69.5) / 12), 440 * 2 ** ((self.high - 68.5) / 12)


ANY = Profile(low=34, high=96)
"""For a player whose instrument is not known."""


def profile_of(instrument: Instrument | None) -> Profile:
    """The profile of an instrument: its professional range and two semitones on either side."""
    if instrument is None:
        return ANY
    span = instrument.concert_range("professional")
    return Profile(
        low=max(21, span.low.midi - 2),
        high=min(108, span.high.midi + 2),
        rings=instrument.id in _PLUCKED,
        sings=instrument.id.endswith("voice"),
    )
