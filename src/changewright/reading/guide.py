"""Guide tones: the two slow lines of 3rds and 7ths through a form, and what each change shares.

Both lines together take both guide tones of every chord; which line takes which is decided for
the whole form at once, by the least motion and then by falling rather than rising.
Source: domain reference 5.3, F5.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from changewright.music.bar import Change
from changewright.reading.model import Reading
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree, Name

__all__ = ["GuideLine", "GuideNote", "Join", "Move", "guide_lines", "guide_pair", "joins", "motion"]

_ROOT, _FIFTH, _FLAT_NINE = Degree(1), Degree(5), Degree(9, -1)
_STEP = 2
_LEAP = 100  # a leap is taken only where nothing else is left


@dataclass(frozen=True, slots=True)
class GuideNote:
    """One note of a guide-tone line.

    ``index`` is the change (of the reading) where it is due, ``motion`` the semitones from the
    note before it (positive rises), 0 at the start. ``instead`` is a note that would be reached
    by step where the guide tone needs more, with the reason in ``because``.
    """

    index: int
    degree: Degree
    name: Name
    motion: int
    instead: Degree | None = None
    because: str = ""


@dataclass(frozen=True, slots=True)
class GuideLine:
    """One of the two lines; ``starts_on`` is its first degree, a 3rd or a 7th or their stand-in."""

    starts_on: Degree
    notes: tuple[GuideNote, ...]


@dataclass(frozen=True, slots=True)
class Move:
    """A guide tone that moves by at most a whole tone to a guide tone of the next chord."""

    start: Name
    end: Name
    semitones: int


@dataclass(frozen=True, slots=True)
class Join:
    """What happens where a chord gives way to the next: the tones they share, as the next chord
    spells them, and the guide tones that step. ``index`` is the change that begins there."""

    index: int
    shared: tuple[Name, ...]
    moves: tuple[Move, ...]


def guide_pair(chord: Chord) -> tuple[Degree, Degree]:
    """The two guide tones: 3rd and 7th, or what stands for them.

    The 6th stands for the 7th and the 4th for the 3rd (domain reference 2.5); a triad has its
    root for the 7th it lacks, a bare fifth its fifth for the 3rd.
    """
    third = chord.third or chord.fifth or _FIFTH
    seventh = chord.seventh or _ROOT
    return third, seventh


def motion(start: Name, end: Name) -> int:
    """The shorter way between two notes in semitones; a tritone falls."""
    rise = (end.pc - start.pc) % 12
    return rise if rise < 6 else rise - 12


def guide_lines(reading: Reading) -> tuple[GuideLine, GuideLine] | None:
    """The two lines through the whole form, the one from the 3rd first; None if all is N.C."""
    sounding = _sounding(reading)
    if not sounding:
        return None
    swaps = _best_swaps([_names(change.chord) for _, change in sounding])
    return _line(sounding, swaps, 0), _line(sounding, swaps, 1)


def joins(reading: Reading) -> tuple[Join, ...]:
    """What each change of chord shares and moves, in order."""
    sounding = _sounding(reading)
    return tuple(
        _join(index, before.chord, change.chord)
        for (_, before), (index, change) in pairwise(sounding)
    )


def _sounding(reading: Reading) -> list[tuple[int, Change]]:
    """The changes where a new chord sounds, with their indices."""
    found: list[tuple[int, Change]] = []
    for index, read in enumerate(reading.changes):
        chord = read.change.chord
        if chord.root is not None and not (found and found[-1][1].chord == chord):
            found.append((index, read.change))
    return found


def _names(chord: Chord) -> tuple[Name, Name]:
    third, seventh = guide_pair(chord)
    return chord.tone(third), chord.tone(seventh)


def _effort(start: Name, end: Name) -> int:
    """Motion first, then falling before rising."""
    by = motion(start, end)
    return 4 * abs(by) + (by > 0) + (_LEAP if abs(by) > _STEP else 0)


def _best_swaps(pairs: Sequence[tuple[Name, Name]]) -> list[int]:
    """For each chord, 0 if the line from the 3rd takes its 3rd, 1 if it takes its 7th."""
    costs = [0, 10**9]  # the first line starts on the 3rd
    trails: list[list[int]] = []
    for before, after in pairwise(pairs):
        straight = sum(_effort(a, b) for a, b in zip(before, after, strict=True))
        crossed = sum(_effort(a, b) for a, b in zip(before, after[::-1], strict=True))
        steps = ((straight, crossed), (crossed, straight))
        sums = [[costs[a] + steps[a][b] for a in (0, 1)] for b in (0, 1)]
        costs = [min(row) for row in sums]
        trails.append([row.index(min(row)) for row in sums])
    state = costs.index(min(costs))
    swaps = [state]
    for trail in reversed(trails):
        state = trail[state]
        swaps.append(state)
    return swaps[::-1]


def _line(sounding: Sequence[tuple[int, Change]], swaps: Sequence[int], strand: int) -> GuideLine:
    notes: list[GuideNote] = []
    for (index, change), swap in zip(sounding, swaps, strict=True):
        degree = guide_pair(change.chord)[strand ^ swap]
        notes.append(_note(index, change.chord, degree, notes[-1] if notes else None))
    return GuideLine(notes[0].degree, tuple(notes))


def _note(index: int, chord: Chord, degree: Degree, before: GuideNote | None) -> GuideNote:
    name = chord.tone(degree)
    by = motion(before.name, name) if before else 0
    if before is None or abs(by) <= _STEP:
        return GuideNote(index, degree, name, by)
    flat_nine = chord.tone(_FLAT_NINE)
    near = motion(before.name, flat_nine)
    if chord.is_dominant and abs(near) <= _STEP:
        does = "is a step away" if near else "stays where it is"
        because = f"no guide tone lies within a step of {before.name}; the b9, {flat_nine}, {does}"
        return GuideNote(index, degree, name, by, _FLAT_NINE, because)
    return GuideNote(index, degree, name, by, None, _leap_words(before.name, by))


def _leap_words(start: Name, by: int) -> str:
    size = {3: "a minor third", 4: "a major third", 5: "a fourth", 6: "a tritone"}[abs(by)]
    way = "up" if by > 0 else "down"
    return f"no guide tone lies within a step of {start}; go {way} {size}"


def _join(index: int, before: Chord, after: Chord) -> Join:
    own = before.pcs
    shared = tuple(tone for tone in after.tones if tone.pc in own)
    moves = tuple(
        Move(a, b, motion(a, b))
        for a in _names(before)
        for b in _names(after)
        if 0 < abs(motion(a, b)) <= _STEP
    )
    return Join(index, shared, moves)
