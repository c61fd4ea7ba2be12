"""The hand that writes a part out: everything moves by one interval, and stays readable."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name, Pitch
from changewright.theory.spelling import Manner, is_hard, tidy

__all__ = ["Hand"]

_FURTHEST = 6  # G flat and F sharp on the line of fifths
_REMOTE = 5  # from five flats on, C flat is at home
_SHARPEST = 10  # A sharp; no chord is written on E sharp or B sharp
_LOWERED_SECOND = -5  # fifths from a key's tonic to the first root that belongs to it,
_RAISED_FOURTH = 6  # to the last,
_RAISED_SECOND = 9  # and to the last that a passing diminished seventh stands on


@dataclass(frozen=True, slots=True)
class Hand:
    """Writes concert pitch as a player reads it: ``up`` is the interval, ``key`` the written key.

    The whole exercise moves by ``up``. A chord whose root would be harder to read than G flat or
    F sharp is turned enharmonically, and the notes over it turn with it; double accidentals that
    remain are tidied bar by bar, and whatever else the ``manner`` of spelling does without.
    Source: domain reference 2.6.
    """

    up: Interval
    key: Key
    manner: Manner = "usual"

    def chord(self, chord: Chord) -> Chord:
        """A chord symbol at written pitch."""
        if chord.root is None:
            return chord
        moved = chord.transpose(self.up + self._turn(chord))
        if moved.bass is None or (moved.bass in moved.tones and abs(moved.bass.alter) < 2):
            return moved
        return replace(moved, bass=Name(moved.bass.fifths + 12 * self._turns(moved.bass)))

    def name(self, written: Name) -> Name:
        """A tone of a chord or scale, by the plainer name where the manner wants one.

        In the usual manner that is only for double accidentals: ``Bbb`` is written ``A``.
        """
        if not is_hard(written, self.manner):
            return written
        return Name(written.fifths + (12 if written.fifths < 0 else -12))

    def bar(self, notes: Sequence[tuple[Pitch, Chord | None]]) -> tuple[Pitch, ...]:
        """The notes of a bar at written pitch, each with the chord it sounds over."""
        moved = [self._moved(pitch, chord) for pitch, chord in notes]
        if not any(is_hard(p.name, self.manner) for p in moved):
            return tuple(moved)
        firm = [
            _is_tone(pitch, chord) or _is_tone(written, chord and self.chord(chord))
            for written, (pitch, chord) in zip(moved, notes, strict=True)
        ]
        return tidy(moved, [1] * len(moved), self.key, firm=firm, manner=self.manner)

    def _moved(self, pitch: Pitch, chord: Chord | None) -> Pitch:
        """A note at written pitch. A beginner's B over Db7 is read by a clarinet as the Db of Eb7,
        for what was hard to read in one key may be plain in another."""
        moved = pitch + self.up + self._turn(chord)
        if self.manner != "easy" or chord is None or chord.root is None:
            return moved
        for tone in self.chord(chord).tones:
            turns, apart = divmod(tone.fifths - moved.name.fifths, 12)
            if turns and not apart and not is_hard(tone, self.manner):
                return moved + Interval(12 * turns, -7 * turns)
        return moved

    def _turn(self, chord: Chord | None) -> Interval:
        if chord is None or chord.root is None:
            return Interval(0, 0)
        turns = self._turns(chord.root + self.up, chord)
        return Interval(12 * turns, -7 * turns)

    def _turns(self, root: Name, chord: Chord | None = None) -> int:
        """How many enharmonic turns bring a root within reach of the written key.

        C sharp minor is the sixth step of E and stays so, and A sharp half diminished its raised
        fourth; D flat minor would be read as another place. What stands as its author wrote it
        is turned only where it is out of reach. A beginner is spared double accidentals first.
        """
        passing = chord is not None and chord.has(7, -2)
        last = self.key.signature + (_RAISED_SECOND if passing else _RAISED_FOURTH)
        low = -_FURTHEST - (self.manner != "easy" and self.key.signature <= -_REMOTE)
        high = max(_FURTHEST, min(last, _SHARPEST))

        def against(turns: int) -> tuple[int, bool, bool, int]:
            fifths = root.fifths + 12 * turns
            return (
                max(low - fifths, fifths - high, 0),
                self.manner == "easy" and _has_doubles(Name(fifths), chord),
                self.up.fifths != 0 and not self.key.signature + _LOWERED_SECOND <= fifths <= last,
                abs(turns),
            )

        return min(range(-2, 3), key=against)


def _has_doubles(root: Name, chord: Chord | None) -> bool:
    """Tell whether a chord has double accidentals when it stands on a root."""
    if chord is None or chord.root is None:
        return False
    away = root.fifths - chord.root.fifths
    return any(abs(Name(tone.fifths + away).alter) > 1 for tone in chord.tones)


def _is_tone(pitch: Pitch, chord: Chord | None) -> bool:
    return chord is not None and chord.root is not None and pitch.name in chord.tones
