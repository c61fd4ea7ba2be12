"""Which accidentals a reader needs: key signature, bar, tie and courtesy."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from changewright.theory.key import Key
from changewright.theory.pitch import Name, Pitch

__all__ = ["Accidental", "Spelled", "accidentals", "signature_alters"]


@dataclass(frozen=True, slots=True)
class Accidental:
    """A printed accidental in semitones (natural 0). ``courtesy`` marks a mere reminder."""

    alter: int
    courtesy: bool = False


@dataclass(frozen=True, slots=True)
class Spelled:
    """A written pitch in its bar; ``tied_from`` is True where it goes on from the note before."""

    pitch: Pitch
    tied_from: bool = False


def signature_alters(key: Key) -> dict[str, int]:
    """The letters that a key signature alters.

    >>> signature_alters(Key.parse("Bb"))
    {'B': -1, 'E': -1}
    """
    count = key.signature
    fifths = range(6, 6 + count) if count > 0 else range(-2, -2 + count, -1)
    letters = (Name(f - 7 if count > 0 else f + 7).letter for f in fifths)
    return dict.fromkeys(letters, 1 if count > 0 else -1)


def accidentals(
    key: Key, bars: Sequence[Sequence[Spelled | None]]
) -> list[list[Accidental | None]]:
    """Work out the accidentals of a single voice, bar by bar; None where none is printed.

    An accidental holds for its own octave until the bar line; a tied note carries its own over.
    A courtesy is printed, once, where the same letter sounded altered otherwise in the bar
    before, or in another octave of the same bar. Source: common practice, no source.
    """
    signature = signature_alters(key)
    rows: list[list[Accidental | None]] = []
    before: dict[str, int] = {}
    for bar in bars:
        here = _Bar(signature, before)
        rows.append([here.read(spelled) for spelled in bar])
        before = here.heard
    return rows


class _Bar:
    """What a reader remembers inside one bar."""

    def __init__(self, signature: dict[str, int], before: dict[str, int]) -> None:
        self._signature = signature
        self._before = dict(before)
        self._steps: dict[int, int] = {}
        self.heard: dict[str, int] = {}

    def read(self, spelled: Spelled | None) -> Accidental | None:
        if spelled is None:
            return None
        name, step = spelled.pitch.name, spelled.pitch.step
        letter, alter = name.letter, name.alter
        if spelled.tied_from:
            self.heard[letter] = alter
            return None
        in_force = self._steps.get(step, self._signature.get(letter, 0))
        doubt = any(alter != other for other in self._doubts(letter))
        self._steps[step] = alter
        self._before.pop(letter, None)
        self.heard[letter] = alter
        if alter != in_force:
            return Accidental(alter)
        return Accidental(alter, courtesy=True) if doubt else None

    def _doubts(self, letter: str) -> Iterator[int]:
        if letter in self._before:
            yield self._before[letter]
        if letter in self.heard:
            yield self.heard[letter]
