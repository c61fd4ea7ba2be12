"""Pitches and intervals as positions on the line of fifths, so that spelling is never lost.

The line of fifths runs ... Bb F C G D A E B F# ...; C is 0, G is 1, F is -1. A perfect fifth is
``Interval(1, 0)``, an octave ``Interval(0, 1)``. Semitones = 7 x fifths + 12 x octaves, and
transposing is addition. Octaves are scientific: middle C is C4, A4 sounds 440 Hz and is MIDI 69.
"""

import re
from dataclasses import dataclass

__all__ = ["Degree", "Interval", "Name", "Pitch"]

_LETTERS = "FCGDAEB"  # in order of fifths, F at -1
_MAJOR = {1: 0, 2: 2, 3: 4, 4: -1, 5: 1, 6: 3, 7: 5}  # fifths above the root, by degree number
_ACCIDENTALS = {"b": -1, "♭": -1, "#": 1, "♯": 1, "x": 2, "𝄫": -2, "𝄪": 2}
_NAME = re.compile(r"([A-G])([b♭#♯x𝄫𝄪]*)")
_PITCH = re.compile(r"([A-G])([b♭#♯x𝄫𝄪]*)(-?\d+)")
_DEGREE = re.compile(r"([b♭#♯𝄫𝄪]*)(\d{1,2})")


def _alter_of(text: str) -> int:
    return sum(_ACCIDENTALS[c] for c in text)


def _accidental(alter: int) -> str:
    return "b" * -alter if alter < 0 else "#" * alter


@dataclass(frozen=True, slots=True)
class Interval:
    """The move from one spelled pitch to another.

    >>> Interval.parse("M9").semitones
    14
    """

    fifths: int
    octaves: int

    @property
    def semitones(self) -> int:
        """Signed size in semitones."""
        return 7 * self.fifths + 12 * self.octaves

    @property
    def steps(self) -> int:
        """Signed size in staff steps: a unison 0, a second 1, an octave 7."""
        return 4 * self.fifths + 7 * self.octaves

    def __add__(self, other: "Interval") -> "Interval":
        return Interval(self.fifths + other.fifths, self.octaves + other.octaves)

    def __sub__(self, other: "Interval") -> "Interval":
        return Interval(self.fifths - other.fifths, self.octaves - other.octaves)

    def __neg__(self) -> "Interval":
        return Interval(-self.fifths, -self.octaves)

    def __str__(self) -> str:
        if self.steps < 0 or (self.steps == 0 and self.semitones < 0):
            return f"-{-self}"
        shift = (self.fifths - _MAJOR[self.steps % 7 + 1]) // 7
        perfect = self.steps % 7 + 1 in (1, 4, 5)
        if shift > 0:
            quality = "A" * shift
        elif perfect:
            quality = "d" * -shift or "P"
        else:
            quality = "M" if shift == 0 else "d" * (-shift - 1) or "m"
        return f"{quality}{self.steps + 1}"

    @classmethod
    def parse(cls, text: str) -> "Interval":
        """Read ``P5``, ``m3``, ``M13``, ``A4``, ``d7``; a leading ``-`` goes down."""
        match = re.fullmatch(r"(-?)([PMm]|A{1,4}|d{1,4})(\d{1,3})", text)
        if not match:
            raise ValueError(f"not an interval: {text!r}; write it like P5, m3 or -M2")
        sign, quality, number = match[1], match[2], int(match[3])
        if number < 1:
            raise ValueError(f"not an interval: {text!r}; intervals count from 1")
        steps = number - 1
        perfect = steps % 7 + 1 in (1, 4, 5)
        if quality in (("M", "m") if perfect else ("P",)):
            raise ValueError(f"no such interval: {text!r}")
        count = quality.count("A") - quality.count("d")
        smaller = not perfect and quality[0] in "md"
        fifths = _MAJOR[steps % 7 + 1] + 7 * (count - smaller)
        interval = cls(fifths, (steps - 4 * fifths) // 7)
        return -interval if sign else interval


@dataclass(frozen=True, slots=True)
class Name:
    """A spelled pitch class, such as B flat: a position on the line of fifths with C at 0.

    >>> str(Name.parse("Db") + Interval.parse("m7"))
    'Cb'
    """

    fifths: int

    @property
    def letter(self) -> str:
        """The letter A to G."""
        return _LETTERS[(self.fifths + 1) % 7]

    @property
    def alter(self) -> int:
        """The accidental in semitones: flat -1, natural 0, sharp 1."""
        return (self.fifths + 1) // 7

    @property
    def pc(self) -> int:
        """The pitch class, C = 0 to B = 11."""
        return 7 * self.fifths % 12

    def __str__(self) -> str:
        return self.letter + _accidental(self.alter)

    def __add__(self, interval: Interval) -> "Name":
        return Name(self.fifths + interval.fifths)

    def __sub__(self, interval: Interval) -> "Name":
        return Name(self.fifths - interval.fifths)

    def at(self, octave: int) -> "Pitch":
        """The pitch of this name in a scientific octave: ``Name.parse("C").at(4)`` is middle C."""
        step = "CDEFGAB".index(self.letter)
        return Pitch(self.fifths, octave + (step - 4 * self.fifths) // 7)

    @classmethod
    def parse(cls, text: str) -> "Name":
        """Read ``C``, ``Bb``, ``F#``, ``E♭``, ``Cx``."""
        match = _NAME.fullmatch(text)
        if not match:
            raise ValueError(f"not a note name: {text!r}; write it like C, Bb or F#")
        return cls(_LETTERS.index(match[1]) - 1 + 7 * _alter_of(match[2]))


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch. Middle C is ``Pitch(0, 4)``; ``str`` gives ``C4``.

    >>> Pitch.parse("A4").midi
    69
    >>> str(Pitch.parse("C5") - Interval.parse("M9"))
    'Bb3'
    """

    fifths: int
    octaves: int

    @property
    def name(self) -> Name:
        """The spelled pitch class."""
        return Name(self.fifths)

    @property
    def midi(self) -> int:
        """The MIDI note number; A4 is 69 (MIDI 1.0; middle C = C4 = 60)."""
        return 7 * self.fifths + 12 * self.octaves + 12

    @property
    def step(self) -> int:
        """The staff position: C4 is 28, one more for each letter up."""
        return 4 * self.fifths + 7 * self.octaves

    @property
    def octave(self) -> int:
        """The scientific octave of the written letter: Cb4 is a semitone below C4."""
        return self.step // 7

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"

    def __add__(self, interval: Interval) -> "Pitch":
        return Pitch(self.fifths + interval.fifths, self.octaves + interval.octaves)

    def __sub__(self, interval: Interval) -> "Pitch":
        return self + -interval

    def to(self, other: "Pitch") -> Interval:
        """The interval that leads from this pitch to ``other``."""
        return Interval(other.fifths - self.fifths, other.octaves - self.octaves)

    @classmethod
    def parse(cls, text: str) -> "Pitch":
        """Read ``C4``, ``Bb3``, ``F#5``."""
        match = _PITCH.fullmatch(text)
        if not match:
            raise ValueError(f"not a pitch: {text!r}; write it like C4, Bb3 or F#5")
        return Name.parse(match[1] + match[2]).at(int(match[3]))


@dataclass(frozen=True, slots=True)
class Degree:
    """A degree of the major scale on a root: ``Degree(3, -1)`` is b3, ``Degree(11, 1)`` is #11.

    >>> Degree.parse("b9").interval.semitones
    13
    """

    number: int
    alter: int = 0

    @property
    def interval(self) -> Interval:
        """The interval above the root; 9, 11 and 13 lie beyond the octave."""
        steps = self.number - 1
        fifths = _MAJOR[steps % 7 + 1] + 7 * self.alter
        return Interval(fifths, (steps - 4 * fifths) // 7)

    @property
    def pc(self) -> int:
        """Semitones above the root, folded into an octave."""
        return (7 * _MAJOR[(self.number - 1) % 7 + 1] + self.alter) % 12

    def __str__(self) -> str:
        return _accidental(self.alter) + str(self.number)

    @classmethod
    def parse(cls, text: str) -> "Degree":
        """Read ``1``, ``b3``, ``#11``, ``bb7``."""
        match = _DEGREE.fullmatch(text)
        if not match or not 1 <= int(match[2]) <= 15:
            raise ValueError(f"not a degree: {text!r}; write it like 3, b7 or #11")
        return cls(int(match[2]), _alter_of(match[1]))
