"""Rhythms written as they are counted: one sign a step, a bar between strokes.

``x.xx|..x.`` is two bars of four steps. ``.`` is rest, ``-`` holds the note before, any other
sign is a note whose meaning belongs to the player who reads it. Spaces are for the eye. How many
steps a beat has follows from the bar's length: ``x.xxx.xx`` over four beats counts eighths,
``x..x.xx..x.x`` triplets.
"""

from dataclasses import dataclass
from fractions import Fraction

__all__ = ["Pattern", "Step", "read_pattern"]

_STEPS_A_BEAT = (1, 2, 3, 4, 6)


@dataclass(frozen=True, slots=True)
class Step:
    """One note of a pattern: where it starts and how long it is written, in beats."""

    at: Fraction
    length: Fraction
    sign: str


@dataclass(frozen=True, slots=True)
class Pattern:
    """A rhythm of one or more bars of ``beats`` beats each."""

    beats: int
    bars: tuple[tuple[Step, ...], ...]

    @property
    def hits_a_bar(self) -> float:
        """How busy the rhythm is."""
        return sum(len(bar) for bar in self.bars) / len(self.bars)


def read_pattern(text: str, beats: int) -> Pattern:
    """Read a rhythm; raises ValueError where a bar doesn't divide into whole steps a beat."""
    bars = [bar.replace(" ", "") for bar in text.split("|")]
    return Pattern(beats, tuple(_bar(bar, beats) for bar in bars))


def _bar(text: str, beats: int) -> tuple[Step, ...]:
    if not text or len(text) % beats or len(text) // beats not in _STEPS_A_BEAT:
        raise ValueError(f"the rhythm {text!r} doesn't divide into {beats} beats")
    unit = Fraction(beats, len(text))
    steps: list[Step] = []
    for place, sign in enumerate(text):
        if sign == "-" and steps and steps[-1].at + steps[-1].length == place * unit:
            last = steps[-1]
            steps[-1] = Step(last.at, last.length + unit, last.sign)
        elif sign not in ".-":
            steps.append(Step(place * unit, unit, sign))
    return tuple(steps)
