"""Where a phrase fits a chorus, and what becomes of its notes there."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from changewright.lesson.ground import Ground
from changewright.lesson.phrase import Phrase, PhraseNote, Span, spans_of
from changewright.music.bar import Bar, Quarters
from changewright.theory.pitch import Degree

__all__ = ["Chorus", "Placement", "chorus_of", "in_reach", "placements"]

_ADAPTS = frozenset(
    {
        ("minor", "half-diminished"),
        ("half-diminished", "minor"),
        ("major", "minor"),
        ("minor", "major"),
    }
)
"""Kinds of chords that stand for one another when a ii-V-I changes its mode."""


@dataclass(frozen=True, slots=True)
class Placement:
    """A phrase at a place: from the bar line at ``start``, bars by index from ``bar``.

    ``degrees`` are its notes over the chords there, ``spans`` the chords; ``shape`` is in
    semitones from the first note, ``pc`` the first note's pitch class,
    ``last`` the last note's duration. ``adapted`` tells whether a note had to give way to the other
    mode; ``open`` that the line may go on in the bar where it ends.
    """

    phrase: Phrase
    start: Quarters
    bar: int
    pc: int
    degrees: tuple[Degree, ...]
    spans: tuple[Span, ...]
    shape: tuple[int, ...]
    last: Quarters
    adapted: bool
    open: bool = False

    @property
    def ends(self) -> Quarters:
        """Where the line may go on: where its last note ends, or its last bar."""
        if self.open:
            return self.start + self.phrase.notes[-1].at + self.last
        return self.start + sum(b.length for b in self.phrase.bars)

    @property
    def bars(self) -> range:
        """The indices of the bars that it fills."""
        return range(self.bar, self.bar + len(self.phrase.bars))


@dataclass(frozen=True, slots=True)
class Chorus:
    """A chorus to look for places in: its bars, its chords, and where each of them starts."""

    bars: tuple[Bar, ...]
    spans: tuple[Span, ...]
    # floats, because they are compared very often; starts are multiples of a beat, so exact
    starts: tuple[float, ...]

    def at(self, onset: Quarters) -> int | None:
        """The index of the chord that sounds at an onset."""
        index = bisect_right(self.starts, float(onset)) - 1
        return index if index >= 0 and onset < self.spans[index].end else None


def chorus_of(ground: Ground) -> Chorus:
    """Lay a chorus out for :func:`placements`, once for all phrases."""
    spans = spans_of(ground.patches)
    return Chorus(ground.reading.bars, spans, tuple(float(s.start) for s in spans))


def placements(phrase: Phrase, chorus: Chorus) -> tuple[Placement, ...]:
    """Every place in a chorus where the changes are the phrase's, in any key.

    The last note is held for as long as its chord allows.
    """
    found = (_at(phrase, chorus, index) for index in range(len(chorus.bars)))
    return tuple(one for one in found if one is not None)


def in_reach(placement: Placement, ground: Ground) -> bool:
    """Tell whether the instrument has an octave in which every note lies well, and no two cross a
    break that a beginner keeps away from."""
    span, awkward = ground.span, ground.awkward_midi
    low, high = min(placement.shape), max(placement.shape)
    breaks = {frozenset(pair) for pair in ground.crossings}
    moves = [frozenset(pair) for pair in pairwise(placement.shape)] if breaks else []
    return any(
        all(first + s not in awkward for s in placement.shape)
        and not any(frozenset(first + s for s in move) in breaks for move in moves)
        for first in range(span.low.midi - low, span.high.midi - high + 1)
        if first % 12 == placement.pc
    )


def _at(phrase: Phrase, chorus: Chorus, index: int) -> Placement | None:
    bars = chorus.bars
    start = bars[index].start
    under = _under(phrase, chorus, index)
    here = bars[index : index + len(phrase.bars)]
    if under is None or [b.length for b in here] != [b.length for b in phrase.bars]:
        return None
    placed = _adapted(phrase, under)
    if placed is None:
        return None
    degrees, heights, adapted = placed
    shape = tuple(h - heights[0] for h in heights)
    last = min(phrase.notes[-1].duration, under[-1].end - start - phrase.notes[-1].at)
    return Placement(phrase, start, index, heights[0] % 12, degrees, under, shape, last, adapted)


def _under(phrase: Phrase, chorus: Chorus, index: int) -> tuple[Span, ...] | None:
    """The chords of the chorus under the phrase's, where they last as long and lie as far apart."""
    first = chorus.at(chorus.bars[index].start + phrase.spans[0].start)
    if first is None:
        return None
    under = chorus.spans[first : first + len(phrase.spans)]
    if len(under) < len(phrase.spans) or not _same_kinds(phrase.spans, under):
        return None
    return under if _same_lengths(phrase, under, chorus.bars[index].start) else None


def _same_kinds(used: Sequence[Span], under: Sequence[Span]) -> bool:
    """Tell whether the chords are of the same kinds and as far apart, or of the other mode."""
    pairs = list(zip(used, under, strict=True))
    if any((a.root - used[0].root) % 12 != (c.root - under[0].root) % 12 for a, c in pairs):
        return False
    if all(a.kind == c.kind for a, c in pairs):
        return True
    dominant = any(a.kind == c.kind == "dominant" for a, c in pairs)
    return dominant and all(a.kind == c.kind or (a.kind, c.kind) in _ADAPTS for a, c in pairs)


def _same_lengths(phrase: Phrase, under: Sequence[Span], start: Quarters) -> bool:
    ends = zip(phrase.spans, under, pairwise(under), strict=False)
    if any(start + a.end != c.end or d.start != c.end for a, c, (_, d) in ends):
        return False
    return start + phrase.notes[-1].at + Fraction(1, 2) <= under[-1].end


def _adapted(
    phrase: Phrase, under: Sequence[Span]
) -> tuple[tuple[Degree, ...], tuple[int, ...], bool] | None:
    """The degrees and heights of the notes over other chords of the same kinds, or of the other
    mode; None where a note has no counterpart."""
    move = (under[0].root - phrase.spans[0].root + 6) % 12 - 6
    degrees: list[Degree | None] = [_counterpart(n, under[n.span]) for n in phrase.notes]
    heights: list[int] = [0] * len(degrees)
    for index in reversed(range(len(degrees))):
        note, degree = phrase.notes[index], degrees[index]
        if note.leads is not None:
            heights[index] = heights[note.leads] + note.midi - phrase.notes[note.leads].midi
            degrees[index] = _shifted(note.degree, heights[index] - note.midi - move)
        elif degree is not None:
            heights[index] = note.midi + move + (degree.pc - note.degree.pc + 6) % 12 - 6
    if any(d is None for d in degrees) or _collides(phrase, heights):
        return None
    adapted = any(h - n.midi != move for h, n in zip(heights, phrase.notes, strict=True))
    return tuple(d for d in degrees if d is not None), tuple(heights), adapted


def _counterpart(note: PhraseNote, span: Span) -> Degree | None:
    if note.leads is not None or not note.inside:
        return note.degree
    pool = span.tones if note.tone else span.scale
    same = next((d for d in span.scale if d.pc == note.degree.pc), None)
    if same is not None and (not note.tone or same in span.tones):
        return same
    return next((d for d in pool if _number(d) == _number(note.degree)), same)


def _number(degree: Degree) -> int:
    return (degree.number - 1) % 7 + 1


def _shifted(degree: Degree, by: int) -> Degree:
    return Degree(degree.number, degree.alter + by)


def _collides(phrase: Phrase, heights: Sequence[int]) -> bool:
    """Tell whether notes that moved now repeat one another."""
    moves = zip(pairwise(n.midi for n in phrase.notes), pairwise(heights), strict=True)
    return any(a != b and c == d for (a, b), (c, d) in moves)
