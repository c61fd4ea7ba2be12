"""Repeat signs where a passage comes back note for note.

Only whole sections are folded, or a whole chorus made of one passage; what a copyist would leave
written out stays written out. Bars keep the numbers that they are played at.
"""

from collections.abc import Sequence
from dataclasses import replace

from changewright.music.notated import Mark, NotatedBar

__all__ = ["fold"]

_SHORTEST = 4
"""Bars; a shorter passage is easier to read written out. Source: common practice, no source."""

_SHORTEST_VAMP, _OFTEN = 2, 3
"""Bars of a vamp, and how often it comes before a copyist writes it once. Source: as above."""


def fold(bars: Sequence[NotatedBar]) -> tuple[NotatedBar, ...]:
    """Write each passage that is repeated exactly once, between repeat signs."""
    folded: list[NotatedBar] = []
    at = 0
    while at < len(bars):
        size, times = _repetition(bars, at)
        passage = list(bars[at : at + size])
        if times > 1:
            passage[0] = replace(passage[0], opens_repeat=True)
            passage[-1] = replace(passage[-1], times=times, closes=True)
        folded += passage
        at += size * times
    return tuple(folded)


def _repetition(bars: Sequence[NotatedBar], at: int) -> tuple[int, int]:
    """Length and number of times of the passage at a place; (1, 1) where nothing repeats."""
    ends = [n for n in range(at + 1, len(bars) + 1) if bars[n - 1].closes]
    if not ends or (at > 0 and not bars[at].bar.label and bars[at - 1].bar.number != 0):
        return 1, 1
    size = ends[0] - at
    times = _times(bars, at, size)
    if times == 1 and ends[0] == len(bars):
        return _parts(bars, at)
    is_vamp = size >= _SHORTEST_VAMP and times >= _OFTEN
    return (size, times) if is_vamp or (times > 1 and size >= _SHORTEST) else (1, 1)


def _parts(bars: Sequence[NotatedBar], at: int) -> tuple[int, int]:
    """A last section that is itself made of one passage, played over and over."""
    length = len(bars) - at
    for size in range(_SHORTEST, length // 2 + 1):
        if length % size == 0 and _times(bars, at, size) == length // size:
            return size, length // size
    return 1, 1


def _times(bars: Sequence[NotatedBar], at: int, size: int) -> int:
    passage = bars[at : at + size]
    if any(m.open for b in passage for m in b.marks) or not any(
        m.pitch is not None for b in passage for m in b.marks
    ):
        return 1
    label, times = passage[0].bar.label, 1
    while at + (times + 1) * size <= len(bars):
        again = bars[at + times * size : at + (times + 1) * size]
        if again[0].bar.label not in ("", label):
            break
        if not all(_same(a, b) for a, b in zip(passage, again, strict=True)):
            break
        times += 1
    return times


def _same(one: NotatedBar, other: NotatedBar) -> bool:
    """Equal to the eye: signs, changes and meter; the first bar's letter is judged apart."""
    if one.bar.meter != other.bar.meter or one.bar.length != other.bar.length:
        return False
    chords = [(c.onset, c.chord) for c in one.chords] == [(c.onset, c.chord) for c in other.chords]
    return chords and list(map(_seen, one.marks)) == list(map(_seen, other.marks))


def _seen(mark: Mark) -> tuple[object, ...]:
    """All of a sign that is seen: not from which note it comes."""
    return (
        mark.onset, mark.value, mark.pitch, mark.accidental, mark.figure, mark.tied_from,
        mark.tied_to, mark.open, mark.beam, mark.hint, mark.above,
    )  # fmt: skip
