"""Keys as spelled tonics with a mode, and the shortest way to write them."""

from dataclasses import dataclass
from typing import Literal

from changewright.theory.pitch import Interval, Name

__all__ = ["Key", "Mode", "shortest_spelling"]

Mode = Literal["major", "minor"]


@dataclass(frozen=True, slots=True)
class Key:
    """A key: a spelled tonic and a mode.

    >>> Key.parse("Bbm").signature
    -5
    """

    tonic: Name
    mode: Mode = "major"

    @property
    def signature(self) -> int:
        """Sharps (positive) or flats (negative) of the key signature."""
        return self.tonic.fifths - (3 if self.mode == "minor" else 0)

    def __str__(self) -> str:
        return f"{self.tonic}{'m' if self.mode == 'minor' else ''}"

    @property
    def words(self) -> str:
        """The key in words: ``B flat major``."""
        accidental = {-2: " double flat", -1: " flat", 0: "", 1: " sharp", 2: " double sharp"}
        return f"{self.tonic.letter}{accidental[self.tonic.alter]} {self.mode}"

    def transpose(self, interval: Interval) -> "Key":
        """Move the key and spell it with at most six accidentals.

        A minor key of six sharps becomes E flat minor, for its raised seventh would be a double
        sharp. Source: domain reference 2.6: never more than six sharps or flats, Db before C#, B
        before Cb, F# or Gb as it comes; D# minor: common practice, no source.

        >>> str(Key.parse("E").transpose(Interval.parse("M6")))
        'Db'
        """
        moved = shortest_spelling(Key(self.tonic + interval, self.mode))
        if self.mode == "minor" and moved.signature == 6:
            return Key(Name(moved.tonic.fifths - 12), "minor")
        return moved

    @classmethod
    def parse(cls, text: str) -> "Key":
        """Read ``F``, ``Bb``, ``Cm``, ``F# minor``, ``E♭ major``."""
        words = text.strip().replace("-", " minor").split()
        if not words:
            raise ValueError("a key is missing; write it like Bb or Cm")
        head, tail = words[0], [w.lower() for w in words[1:]]
        minor = tail in (["minor"], ["min"], ["m"])
        if head[1:].endswith("m"):
            head, minor, tail = head[:-1], True, tail or ["minor"]
        if tail and tail not in (["minor"], ["min"], ["m"], ["major"], ["maj"]):
            raise ValueError(f"not a key: {text!r}; write it like Bb or Cm")
        return cls(Name.parse(head[:1].upper() + head[1:]), "minor" if minor else "major")


def shortest_spelling(key: Key) -> Key:
    """The same key, respelled when its signature would have more than six accidentals.

    Six of either is kept as given: Gb and F# are both in use.
    """
    signature = key.signature
    if -6 <= signature <= 6:
        return key
    turns = (signature + 5) // 12 if signature > 0 else -((-signature + 5) // 12)
    return Key(Name(key.tonic.fifths - 12 * turns), key.mode)
