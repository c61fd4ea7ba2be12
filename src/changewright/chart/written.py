"""A chart as written: bars with their chords, marks, melody and pins, before anything is unrolled.

Times inside a bar are quarters. Every bar carries the meter and the key in force, so that it can
be read by itself; the text only says where they change.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Any, Literal

from changewright.music.bar import FOUR_FOUR, Meter, Quarters
from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.pitch import Name, Pitch
from changewright.theory.symbols import read_symbol

__all__ = [
    "MOST_TIMES",
    "Jump",
    "Marks",
    "Repeat",
    "ScalePin",
    "Sung",
    "WrittenBar",
    "WrittenChord",
    "chord_of",
]

MOST_TIMES = 64
"""How often a repeat may be played; more is a slip of the pen or an attack."""

_UNWRITABLE = re.compile(r"[\s<>:\\%]")


Marks = dict[str, Any]
"""Marks of a bar that is still being put together: keyword arguments of :class:`WrittenBar`."""


@lru_cache(maxsize=4096)
def chord_of(text: str) -> Chord:
    """Read a symbol once, however often a chart writes it."""
    return read_symbol(text)


@dataclass(frozen=True, slots=True)
class ScalePin:
    """The author's own scale for one chord. ``kind`` is a scale id; ``root`` is None where the
    scale stands on the root of its chord."""

    kind: str
    root: Name | None = None


@dataclass(frozen=True, slots=True)
class WrittenChord:
    """A symbol as its author wrote it, its length in quarters, and a pinned scale if any.

    Raises :class:`ChordError` for a symbol that can't be read.
    """

    text: str
    length: Quarters
    scale: ScalePin | None = None

    def __post_init__(self) -> None:
        if self.length <= 0:
            raise ValueError(f"the chord {self.text} must last")
        if not self.text or _UNWRITABLE.search(self.text):
            raise ValueError(f"not a chord on paper: {self.text!r}")
        is_silent = self.chord.is_silent  # raises ChordError for what can't be read
        if self.scale is not None and self.scale.root is None and is_silent:
            raise ValueError("N.C. has no root for a scale to stand on")

    @property
    def chord(self) -> Chord:
        """What the symbol means."""
        return chord_of(self.text)


@dataclass(frozen=True, slots=True)
class Sung:
    """One piece of a bar's melody, at concert pitch: a note, a rest (no pitch), or the rest of
    a note that is held over the bar line (``held``)."""

    pitch: Pitch | None
    length: Quarters
    held: bool = False

    def __post_init__(self) -> None:
        if self.length <= 0:
            raise ValueError("a note or rest must last")
        if self.held and self.pitch is None:
            raise ValueError("a rest can't be held")


@dataclass(frozen=True, slots=True)
class Repeat:
    """How often the bars between here and the end of the repeat are played; ``vamp`` if the
    band waits there."""

    times: int = 2
    vamp: bool = False

    def __post_init__(self) -> None:
        if not 2 <= self.times <= MOST_TIMES:
            raise ValueError(f"a repeat is played 2 to {MOST_TIMES} times, not {self.times}")


@dataclass(frozen=True, slots=True)
class Jump:
    """Where to go back to after a bar, and how the piece then ends: with the coda, at the bar
    marked as the end, or (empty) by playing on."""

    to: Literal["top", "sign"]
    then: Literal["", "coda", "end"] = ""


@dataclass(frozen=True, slots=True)
class WrittenBar:
    """One bar on paper.

    ``section`` names the section that begins here; ``opens``, ``ending`` and ``closes`` are the
    repeat signs; ``sign`` and ``coda`` stand before the bar, ``to_coda``, ``fine`` and ``jump``
    after it. ``pin`` says which key the author hears this bar in. An empty ``melody`` is silence.
    """

    chords: tuple[WrittenChord, ...]
    meter: Meter = FOUR_FOUR
    key: Key | None = None
    pickup: bool = False
    section: str = ""
    opens: Repeat | None = None
    ending: tuple[int, ...] = ()
    closes: bool = False
    sign: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    jump: Jump | None = None
    pin: Key | None = None
    melody: tuple[Sung, ...] = ()

    def __post_init__(self) -> None:
        if not self.chords:
            raise ValueError("a bar has a chord or N.C.")
        full = self.length < self.meter.length if self.pickup else self.length == self.meter.length
        if not full:
            raise ValueError(f"a bar of {self.length} quarters in {self.meter}")
        if self.pickup and self._is_marked:
            raise ValueError("marks stand at full bars, not at a pickup")
        self._check_melody()

    def _check_melody(self) -> None:
        if not self.melody:
            return
        if sum(piece.length for piece in self.melody) != self.length:
            raise ValueError("the melody doesn't fill its bar")
        if all(piece.pitch is None for piece in self.melody):
            raise ValueError("write a silent bar as no melody")
        if any(piece.held for piece in self.melody[1:]):
            raise ValueError("a note is held over a bar line only")
        if any(a.pitch is None and b.pitch is None for a, b in pairwise(self.melody)):
            raise ValueError("two rests in a row are one rest")

    @property
    def _is_marked(self) -> bool:
        before = self.section, self.opens, self.ending, self.sign, self.coda
        return any((*before, self.closes, self.to_coda, self.fine, self.jump))

    @property
    def length(self) -> Quarters:
        """The bar's length in quarters."""
        return sum((chord.length for chord in self.chords), Fraction(0))

    @property
    def is_landing(self) -> bool:
        """Whether the bar can be reached from elsewhere than the bar written before it."""
        return bool(self.section or self.opens or self.ending or self.sign or self.coda)
