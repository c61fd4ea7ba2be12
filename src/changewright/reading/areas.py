"""Key areas: where a teacher would bracket a new key, and where only a chord is approached.

A four that is reached by its own five stays the four of the tune; the same four with its own ii-V
held for four bars is a key. A tonic foreign to the tune's key is a key at once.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby

from changewright.reading.grammar import Role
from changewright.reading.heard import Event, Kind
from changewright.reading.path import Standing
from changewright.reading.spot import FIVES, MINORS, NEIGHBOURS, TWOS
from changewright.theory.key import Mode

__all__ = ["area_tonics", "goals"]

_FOUR_BARS = Fraction(16)


def goals(standings: Sequence[Standing]) -> list[int]:
    """The tonic each chord finally leads to: a chain that gives way to another shares its goal."""
    found = [tonic for _, tonic in standings]
    for i in range(len(standings) - 2, -1, -1):
        if standings[i][0] is standings[i + 1][0] is Role.DOMINANT:
            found[i] = found[i + 1]
    return found


def area_tonics(
    events: Sequence[Event],
    standings: Sequence[Standing],
    home: int,
    mode: Mode,
    pins: Sequence[int | None],
) -> list[int]:
    """The tonic of the key area of each event.

    A new key is kept back to the first chord that doesn't fit it. Source: domain reference 3.3,
    rule 6.
    """
    marked = list(zip(events, standings, pins, strict=True))
    found: list[int | None] = []
    for _, group in groupby(marked, key=lambda m: (m[1][1], m[2])):
        run = list(group)
        found.extend(_settled(run, home, mode))
    return _filled(found, home)


def _filled(found: Sequence[int | None], home: int) -> list[int]:
    """Chords that belong to no key of their own belong to the one around them, else to home."""
    ahead: list[int] = []
    after = home
    for tonic in reversed(found):
        after = tonic if tonic is not None else after
        ahead.append(after)
    filled: list[int] = []
    before = home
    for tonic, after in zip(found, reversed(ahead), strict=True):
        if tonic is None:
            filled.append(before if before == after else home)
        else:
            before = tonic
            filled.append(tonic)
    return filled


def _settled(
    run: Sequence[tuple[Event, Standing, int | None]], home: int, mode: Mode
) -> list[int | None]:
    """The run's tonic where it is a key of its own, None where it only passes through."""
    tonic, pin = run[0][1][1], run[0][2]
    if pin is not None:
        return [pin] * len(run)
    if tonic == home:
        return [home] * len(run)
    arrivals = [
        k for k, (e, (role, _), _) in enumerate(run) if role is Role.TONIC and e.root == tonic
    ]
    if not arrivals:
        return [None] * len(run)
    start = arrivals[0]
    while start > 0 and _fits(run[start - 1][0], tonic):
        start -= 1
    chord_mode: Mode = "minor" if run[arrivals[0]][0].kind in MINORS else "major"
    near = ((tonic - home) % 12, chord_mode) in NEIGHBOURS[mode]
    lasts = sum((event.duration for event, _, _ in run[start:]), Fraction(0)) >= _FOUR_BARS
    settled = tonic if lasts or not near else None
    return [None] * start + [settled] * (len(run) - start)


def _fits(event: Event, tonic: int) -> bool:
    """Whether a chord on the way belongs to the key: its five, its two, their stand-ins, or a
    plain chord of the major scale."""
    degree = (event.root - tonic) % 12
    if event.kind in FIVES:
        return degree in (7, 1, 10)
    if event.kind in TWOS:
        return degree in (2, 4, 5, 9)
    return event.kind is Kind.DIMINISHED or degree in (0, 5)
