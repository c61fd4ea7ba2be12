"""Chords as the ear takes them: a sounding root and one of a dozen kinds, held chords merged.

The analysis never looks at spelling, only at what sounds: C11, Gm7/C and C9sus4 are one thing
here, a suspended dominant on C. Spelling comes back when the reading is put into words.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from changewright.music.bar import Bar, Change, Quarters
from changewright.theory.chord import Chord

__all__ = ["Event", "Kind", "events_of", "kind_of", "sounding_root"]


_A_BAR = Fraction(4)


class Kind(StrEnum):
    """What a chord can be heard as, before anybody asks what it does."""

    MAJOR = "major"  # a triad, 6, 6/9
    MAJOR7 = "major seventh"
    DOMINANT = "dominant"
    AUGMENTED = "augmented"  # a dominant with a raised fifth, or the bare triad
    SUSPENDED = "suspended"
    MINOR = "minor"  # a triad
    MINOR7 = "minor seventh"
    MINOR6 = "minor sixth"  # m6 and m(maj7): a minor chord that is at home
    HALF_DIMINISHED = "half-diminished"
    DIMINISHED = "diminished"


@dataclass(frozen=True, slots=True)
class Event:
    """One chord for as long as it is held, over bar lines too.

    ``root`` is a pitch class; ``changes`` are the indices of the changes it covers, ``bar`` the
    index of the bar where it starts. ``duration`` is in quarters. ``again`` marks a chord struck
    again, unchanged, inside a bar: usually because it is about to turn into something else.
    """

    root: int
    kind: Kind
    duration: Quarters
    bar: int
    changes: tuple[int, ...]
    again: bool = False

    @property
    def is_long(self) -> bool:
        """Longer than a bar of four quarters."""
        return self.duration > _A_BAR

    @property
    def is_still(self) -> bool:
        """Four such bars or longer."""
        return self.duration >= 4 * _A_BAR


def sounding_root(chord: Chord) -> int:
    """The pitch class that is heard as the root. Source: domain reference 2.4."""
    if chord.root is None:
        raise ValueError("N.C. has no root")
    if chord.bass is not None and _is_suspended_over_bass(chord):
        return chord.bass.pc
    return chord.root.pc


def kind_of(chord: Chord) -> Kind:
    """The kind a chord is heard as; raises ``ValueError`` for N.C., which is heard as nothing."""
    if chord.is_silent:
        raise ValueError("N.C. has no kind")
    if chord.bass is not None and _is_suspended_over_bass(chord):
        return Kind.SUSPENDED
    if chord.has(3, -1):
        return _minor_kind(chord)
    return _major_kind(chord)


def _minor_kind(chord: Chord) -> Kind:
    if chord.has(5, -1):
        return Kind.HALF_DIMINISHED if chord.has(7, -1) else Kind.DIMINISHED
    if chord.has(7) or chord.has(6):
        return Kind.MINOR6
    return Kind.MINOR7 if chord.has(7, -1) else Kind.MINOR


def _major_kind(chord: Chord) -> Kind:
    if not chord.has(3) and (chord.has(7, -1) or chord.has(4)):
        return Kind.SUSPENDED
    if chord.has(7, -1):
        return Kind.AUGMENTED if chord.has(5, 1) else Kind.DOMINANT
    if chord.has(5, 1) and not chord.has(7):
        return Kind.AUGMENTED
    return Kind.MAJOR7 if chord.has(7) else Kind.MAJOR


def _is_suspended_over_bass(chord: Chord) -> bool:
    """Gm7/C, Bb/C, Gm7(b5)/C, Db/C: the upper chord over a bass that makes it a sus on the bass."""
    if chord.root is None or chord.bass is None or chord.bass.pc in {t.pc for t in chord.tones}:
        return False
    above_bass = (chord.root.pc - chord.bass.pc) % 12
    if chord.has(3, -1):
        return above_bass == 7 and not chord.has(7)
    plain = chord.has(3) and chord.has(5) and not chord.has(7, -1)
    return plain and above_bass in (1, 10)


def events_of(bars: tuple[Bar, ...], cuts: frozenset[Quarters] = frozenset()) -> tuple[Event, ...]:
    """Merge chords that are held over bar lines; one struck again inside a bar stays apart.

    N.C. is left out: it says nothing about the harmony. A held chord is parted at the onsets in
    ``cuts``.
    """
    found: list[Event] = []
    index = 0
    before: Change | None = None
    for position, bar in enumerate(bars):
        for change in bar.changes:
            same = before is not None and before.chord == change.chord
            if change.chord.is_silent:
                pass
            elif same and change.onset == bar.start and change.onset not in cuts:
                last = found[-1]
                held = last.duration + change.duration
                found[-1] = replace(last, duration=held, changes=(*last.changes, index))
            else:
                again = same and change.onset != bar.start
                found.append(_event(change, position, index, again))
            before = change
            index += 1
    return _with_inner_lines(tuple(found), bars)


def _with_inner_lines(events: tuple[Event, ...], bars: tuple[Bar, ...]) -> tuple[Event, ...]:
    """C C+ C6: a bare augmented triad between two of the same major chord is a moving fifth."""
    changes = [change for bar in bars for change in bar.changes]
    lined = list(events)
    for i in range(1, len(events) - 1):
        before, event, after = events[i - 1 : i + 2]
        bare = event.kind is Kind.AUGMENTED and not changes[event.changes[0]].chord.has(7, -1)
        plain = before.root == event.root == after.root and after.kind is Kind.MAJOR
        if bare and plain and before.kind is Kind.MAJOR:
            lined[i] = replace(event, kind=Kind.MAJOR)
    return tuple(lined)


def _event(change: Change, bar: int, index: int, again: bool) -> Event:
    chord = change.chord
    return Event(sounding_root(chord), kind_of(chord), change.duration, bar, (index,), again)
