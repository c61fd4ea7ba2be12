"""Cadences: where a chain of dominants comes to rest, or is broken off."""

from collections.abc import Iterator, Sequence

from changewright.reading.grammar import Role
from changewright.reading.heard import Kind
from changewright.reading.model import Cadence, CadenceKind, ReadChange
from changewright.reading.spot import MINORS, TWOS, Spot

__all__ = ["cadences_of"]


def cadences_of(changes: Sequence[ReadChange], spots: Sequence[Spot]) -> tuple[Cadence, ...]:
    """Every cadence of the chorus in order; the last chord may lead round to the first."""
    return tuple(
        Cadence(
            kind,
            goal.key if kind is CadenceKind.INTERRUPTED else goal.goal,
            spots[first].event.changes[0],
            spots[last].event.changes[0],
            changes[spots[first].event.changes[0]].bar,
            changes[spots[last].event.changes[0]].bar,
        )
        for kind, first, last, goal in _found(spots)
    )


def _found(spots: Sequence[Spot]) -> Iterator[tuple[CadenceKind, int, int, Spot]]:
    count = len(spots)
    if count < 2:
        return
    for i, spot in enumerate(spots):
        j = (i + 1) % count
        after = spots[j]
        has_two = spots[i - 1].kind in TWOS and spots[i - 1].role is Role.DOMINANT
        two = has_two and spots[i - 1].step_to(spot) in (5, 11) and spot.is_five
        first = (i - 1) % count if two else i
        if _is_plagal(spot, after):
            yield CadenceKind.PLAGAL, i, j, after
        elif spot.role is Role.DOMINANT and spot.is_five:
            kind = _kind(spot, after, two)
            if kind is not None:
                yield kind, first, j, after if after.role is Role.TONIC else spot
        elif spot.kind is Kind.DIMINISHED and after.is_home and spot.step_to(after) == 1:
            yield CadenceKind.DIMINISHED, i, j, after


def _is_plagal(spot: Spot, after: Spot) -> bool:
    """A four that goes home; im7 IV7 for ever is a mode that rocks, and comes to rest nowhere."""
    rocks = spot.kind is Kind.DOMINANT and after.kind in MINORS
    goes_home = after.is_home and after.tonic == spot.tonic
    return spot.role is Role.SUBDOMINANT and goes_home and not rocks


def _kind(spot: Spot, after: Spot, two: bool) -> CadenceKind | None:
    step = spot.step_to(after)
    if after.role is Role.TONIC:
        return _arrival(step, after, two)
    at_five = 7 in (spot.degree, (spot.event.root - spot.tonic) % 12)
    if two and at_five and step not in (0, 5, 11):
        return CadenceKind.INTERRUPTED
    return None


def _arrival(step: int, after: Spot, two: bool) -> CadenceKind:
    minor = after.kind in MINORS
    if step == 5 and after.is_home:
        if two:
            return CadenceKind.MINOR_TWO_FIVE_ONE if minor else CadenceKind.TWO_FIVE_ONE
        return CadenceKind.MINOR_FIVE_ONE if minor else CadenceKind.FIVE_ONE
    if step == 11:
        return CadenceKind.TRITONE
    return CadenceKind.BACKDOOR if step == 2 and after.is_home else CadenceKind.DECEPTIVE
