"""Longer shapes that a player knows by name: turnarounds, chains, cycles, pedals, modes."""

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from changewright.reading.grammar import Role
from changewright.reading.heard import Kind
from changewright.reading.model import Passage, PassageKind, ReadChange
from changewright.reading.spot import TWOS, Spot

__all__ = ["passages_of"]

_FOUR_BARS = Fraction(16)
_Span = tuple[PassageKind, int, int, str]


def passages_of(changes: Sequence[ReadChange], spots: Sequence[Spot]) -> tuple[Passage, ...]:
    """All named shapes, in the order in which they begin."""
    found = sorted(
        (span for search in _SEARCHES for span in search(spots)), key=lambda s: (s[1], s[2], s[0])
    )
    return tuple(
        Passage(
            kind,
            spots[first].event.changes[0],
            spots[last].event.changes[-1],
            changes[spots[first].event.changes[0]].bar,
            changes[spots[last].event.changes[-1]].bar,
            words,
        )
        for kind, first, last, words in found
    )


def _runs(
    spots: Sequence[Spot], goes_on: Callable[[Spot, Spot], bool]
) -> Iterator[tuple[int, int]]:
    """Longest stretches in which each chord goes on to the next in the given way."""
    start = 0
    for i in range(1, len(spots) + 1):
        if i == len(spots) or not goes_on(spots[i - 1], spots[i]):
            yield start, i - 1
            start = i


def _turnarounds(spots: Sequence[Spot]) -> Iterator[_Span]:
    """Four chords, two bars or so, that lead from home back to home."""
    for i in range(len(spots) - 3):
        opening, rest = spots[i], spots[i + 1 : i + 4]
        if opening.degree in (0, 4) and all(s.role is Role.DOMINANT for s in rest):
            after = spots[(i + 4) % len(spots)]
            length = sum((s.event.duration for s in spots[i : i + 4]), Fraction(0))
            tonic = opening.key.tonic.pc
            home = after.event.root == tonic or after.degree == 4
            leads = rest[-1].goal.tonic.pc == tonic or rest[-1].degree in (7, 1)
            if home and leads and length <= _FOUR_BARS / 2:
                words = " ".join(s.text for s in spots[i : i + 4])
                yield PassageKind.TURNAROUND, i, i + 3, f"back to {opening.key.words}: {words}"


def _back_cycling(spots: Sequence[Spot]) -> Iterator[_Span]:
    def falls(a: Spot, b: Spot) -> bool:
        return a.is_five and b.is_five and a.step_to(b) == 5

    for first, last in _runs(spots, falls):
        if last - first >= 2:
            words = f"{last - first + 1} dominants in a row, each the five of the next"
            yield PassageKind.BACK_CYCLING, first, last, words


def _two_five_chains(spots: Sequence[Spot]) -> Iterator[_Span]:
    pairs = [
        i
        for i in range(len(spots) - 1)
        if spots[i].kind in TWOS and spots[i + 1].is_five and spots[i].step_to(spots[i + 1]) == 5
    ]
    for way, steps in (("stepping down", (10, 11)), ("moving by fourths", (5,))):
        start = 0
        for k in range(1, len(pairs) + 1):
            joined = k < len(pairs) and pairs[k] == pairs[k - 1] + 2
            if joined and spots[pairs[k - 1]].step_to(spots[pairs[k]]) in steps:
                continue
            if k - start >= 3:
                words = f"{k - start} ii-Vs in a row, {way}"
                yield PassageKind.TWO_FIVE_CHAIN, pairs[start], pairs[k - 1] + 1, words
            start = k


def _cycles(spots: Sequence[Spot]) -> Iterator[_Span]:
    """Tonics that follow each other by thirds of one size."""
    homes = [i for i, s in enumerate(spots) if s.is_home]
    homes = [
        i for k, i in enumerate(homes) if k == 0 or spots[i].tonic != spots[homes[k - 1]].tonic
    ]
    for kind, thirds in ((PassageKind.MAJOR_THIRDS, (4, 8)), (PassageKind.MINOR_THIRDS, (3, 9))):
        start = 0
        for k in range(1, len(homes) + 1):
            step = (spots[homes[k]].tonic - spots[homes[k - 1]].tonic) % 12 if k < len(homes) else 0
            if step in thirds and (k - start < 2 or step == _last_step(spots, homes, k)):
                continue
            if k - start >= 3:
                names = ", ".join(str(spots[i].goal) for i in homes[start:k])
                yield kind, homes[start], homes[k - 1], f"tonics a third apart: {names}"
            start = k - 1 if k < len(homes) and step in thirds else k


def _last_step(spots: Sequence[Spot], homes: Sequence[int], k: int) -> int:
    return (spots[homes[k - 1]].tonic - spots[homes[k - 2]].tonic) % 12


def _line_cliches(spots: Sequence[Spot]) -> Iterator[_Span]:
    def same_root(a: Spot, b: Spot) -> bool:
        return a.event.root == b.event.root and a.kind in TWOS and b.kind in TWOS

    for first, last in _runs(spots, same_root):
        kinds = {s.kind for s in spots[first : last + 1]}
        if last - first >= 2 and Kind.MINOR6 in kinds and len(kinds) >= 2:
            words = "one minor chord with a moving inner voice"
            yield PassageKind.LINE_CLICHE, first, last, words


def _pedals(spots: Sequence[Spot]) -> Iterator[_Span]:
    def same_bass(a: Spot, b: Spot) -> bool:
        return _bass(a) == _bass(b) and a.chord != b.chord

    for first, last in _runs(spots, same_bass):
        part = spots[first : last + 1]
        foreign = sum(s.chord.bass is not None for s in part)
        if last > first and foreign and len({s.chord.root for s in part}) > 1:
            name = spots[first].chord.bass or spots[first].root
            yield PassageKind.PEDAL, first, last, f"the bass stays on {name} while the chords move"


def _bass(spot: Spot) -> int:
    return spot.event.root if spot.chord.bass is None else spot.chord.bass.pc


def _modes(spots: Sequence[Spot]) -> Iterator[_Span]:
    def same(a: Spot, b: Spot) -> bool:
        return a.chord == b.chord

    for first, last in _runs(spots, same):
        part = spots[first : last + 1]
        still = part[0].kind in (Kind.MINOR7, Kind.SUSPENDED, Kind.MAJOR7, Kind.MINOR)
        if still and sum((s.event.duration for s in part), Fraction(0)) >= 2 * _FOUR_BARS:
            yield PassageKind.MODAL, first, last, f"{part[0].text} stays: one mode, no cadence"


_SEARCHES = (
    _turnarounds, _back_cycling, _two_five_chains, _cycles, _line_cliches, _pedals, _modes,
)  # fmt: skip
