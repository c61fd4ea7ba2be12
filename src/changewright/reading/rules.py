"""Which row of the chord-scale table a chord falls under: by its symbol, then by what it does.

A verdict such as ``D1`` or ``D1/chain`` is a row and, after the stroke, a reason of its own.
Source: domain reference 3.3, its rules in order.
"""

from collections.abc import Sequence
from fractions import Fraction

from changewright.reading.grammar import Role
from changewright.reading.heard import Kind
from changewright.reading.spot import MAJORS, TWOS, Spot

_STATIC = Fraction(16)
_CYCLE = 4  # how many chords away the next but one tonic of a cycle of thirds may be

__all__ = ["following", "rule_for", "target_of"]


def target_of(spots: Sequence[Spot], i: int) -> Spot:
    """The chord that a dominant leads to, looking over ii-Vs put in between.

    D7 Am7 D7 G: the first D7 leads to G as the second does. Bb7 Em7 A7: Bb7 falls to A7.
    A7 Ebm7 Ab7 Dm7: A7 leads to Dm7 over the ii-V a tritone away.
    """
    spot, count = spots[i], len(spots)
    for _ in spots:
        after, beyond, last = (spots[(i + k) % count] for k in (1, 2, 3))
        paired = after.kind in TWOS and beyond.is_five and after.step_to(beyond) == 5
        step = spot.step_to(beyond)
        if not spot.is_five or not paired or step not in (0, 5, 11):
            return after
        if step == 5:
            return beyond
        if step == 11:
            return last if spot.step_to(last) == 5 else beyond
        i = (i + 2) % count
    return spots[(i + 1) % count]


def following(spots: Sequence[Spot], i: int, verdict: str) -> str:
    """The symbol that a reason speaks of as what comes next."""
    at_once = verdict in ("D21", "D9/three")
    return spots[(i + 1) % len(spots)].text if at_once else target_of(spots, i).text


def rule_for(spots: Sequence[Spot], i: int) -> str:
    """The verdict for one chord of the chorus."""
    spot, after = spots[i], spots[(i + 1) % len(spots)]
    if spot.is_five:
        return _written_dominant(spot, after) or _plain_dominant(spots, i)
    if spot.kind is Kind.DIMINISHED:
        return _diminished(spot, after)
    if spot.kind is Kind.HALF_DIMINISHED:
        return _half_diminished(spot, after)
    return _minor(spots, i) if spot.kind in TWOS else _major(spots, i)


def _written_dominant(spot: Spot, after: Spot) -> str:
    chord = spot.chord
    flat_nine = chord.has(9, -1)
    if spot.kind is Kind.SUSPENDED:
        upper_flat = chord.bass is not None and (spot.event.root + 1) % 12 in chord.pcs
        return "D14" if flat_nine or upper_flat else "D13"
    if flat_nine and chord.has(9, 1):
        return "D15"
    if flat_nine and chord.has(13):
        return "D20"
    if flat_nine:
        return "D16" if after.kind in TWOS or chord.has(13, -1) else "D24"
    if chord.has(9, 1):
        return "D17"
    if chord.has(11, 1) or chord.has(5, -1):
        return "D18"
    if chord.has(5, 1):
        return "D19/minor" if spot.goal.mode == "minor" else "D19"
    return ""


def _plain_dominant(spots: Sequence[Spot], i: int) -> str:
    spot, after, target = spots[i], spots[(i + 1) % len(spots)], target_of(spots, i)
    if spot.blues and spot.role is not Role.DOMINANT and spot.degree in (0, 5):
        return "D10" if spot.degree == 0 else "D11"
    if spot.role in (Role.SUBDOMINANT, Role.COLOUR):
        return "D11/plain"
    if spot.role is Role.TONIC:
        if spot.degree == 5:
            return "D11" if spot.blues else "D11/plain"
        return "D23"
    if spot.step_to(after) == 0 and after.kind in TWOS and spot.degree == 2:
        return "D21"
    if spot.degree == 10 and after.degree == 4 and after.kind in TWOS and after.key == spot.key:
        return "D9/three"
    step = spot.step_to(target)
    if step == 5:
        return _falling_fifth(spot, after, target)
    if step == 11:
        return "D22" if spot.degree == 8 and target.is_five else "D8"
    if step == 2 and spot.degree == 10 and target.role is Role.TONIC:
        return "D9"
    return _unresolved(spot, after)


def _falling_fifth(spot: Spot, after: Spot, target: Spot) -> str:
    at_home = target.event.root == spot.key.tonic.pc
    late = "" if after is target else "/late"
    if at_home:
        if spot.blues:
            return "D12"
        return ("D2" if target.kind in TWOS else "D1") + late
    if target.kind in TWOS:
        return {9: "D4", 11: "D5", 4: "D7"}.get(spot.degree, "D2/other") + late
    if target.is_five:
        return {0: "D6", 2: "D3"}.get(spot.degree, "D1/chain") + late
    return {0: "D6"}.get(spot.degree, "D1/other") + late


def _unresolved(spot: Spot, after: Spot) -> str:
    """No target in sight: by where it would go, unless it stays for four bars."""
    if spot.event.duration >= _STATIC:
        return "D23"
    if spot.degree == 7:
        if spot.blues:
            return "D12"
        if after.role is Role.TONIC:
            return "D1/deceptive"
        return ("D2" if spot.key.mode == "minor" else "D1") + "/late"
    if spot.degree == 10:
        return "D9/late"
    return {9: "D4/late", 11: "D5/late", 4: "D7/late", 2: "D3/late"}.get(spot.degree, "D23")


def _diminished(spot: Spot, after: Spot) -> str:
    step = spot.step_to(after)
    if spot.degree == 6 and spot.role is Role.PASSING:
        return "X3"
    bass = after.chord.bass
    if step == 1 or (bass is not None and (bass.pc - spot.event.root) % 12 == 1):
        return "X2" if spot.degree == 3 else "X1" if spot.degree == 1 else "X1/other"
    if spot.degree == 6:
        return "X3"
    if step == 11:
        return "X4"
    return "X5" if step in (0, 3, 6, 9) else "X4/other"


def _half_diminished(spot: Spot, after: Spot) -> str:
    leads = spot.step_to(after) == 5 and after.is_five
    if spot.degree == 6:
        return "M7/two" if leads else "M7"
    if spot.degree == 11 and spot.key.mode == "major" and not leads:
        return "T6"
    if leads and (spot.degree != 2 or spot.goal.mode == "minor"):
        return "T7"
    return "T7/major" if leads else "T7/other"


def _minor(spots: Sequence[Spot], i: int) -> str:
    spot, after = spots[i], spots[(i + 1) % len(spots)]
    if spot.chord.has(6, -1):
        return "M11"
    if spot.is_home and (spot.goal == spot.key or spot.degree == 0):
        if spot.chord.has(11):
            return "M10"
        return _minor_home(spot, {spots[i - 1].degree, after.degree})
    if spot.degree == 5:
        return _minor_four(spot)
    if spot.step_to(after) in (5, 11) and after.is_five:
        third = spot.step_to(after) == 5 and after.chord.has(3)
        return "M8" if spot.degree == 7 else "T3" if third else "T3/sub"
    if spot.kind is Kind.MINOR6:
        return "T8/other"
    own = {4: "T4", 9: "T5"} if spot.key.mode == "major" else {}
    return own.get(spot.degree, "T3/other")


def _minor_home(spot: Spot, around: set[int]) -> str:
    """Aeolian only between the key's own iv and bVI (domain reference, row T9)."""
    if spot.kind is not Kind.MINOR7:
        return "T8"
    return "T9/dark" if around == {5, 8} else "T9"


def _minor_four(spot: Spot) -> str:
    if spot.kind is Kind.MINOR6:
        return "M2" if spot.key.mode == "major" else "T8/other"
    return "M1" if spot.key.mode == "major" else "M1/minor"


def _major(spots: Sequence[Spot], i: int) -> str:
    spot = spots[i]
    if spot.chord.has(5, 1):
        return "T11"
    if spot.chord.has(11, 1) or spot.chord.has(5, -1):
        return "T10"
    if spot.degree == 0:
        return "M9" if _in_thirds(spots, i) else "T1"
    if spot.key.mode == "minor" and spot.degree in (3, 8):
        return "T1/relative" if spot.degree == 3 else "M3/minor"
    borrowed = {5: "T2", 8: "M3", 3: "M4", 10: "M5", 1: "M6"}
    return borrowed.get(spot.degree, "T1/other")


def _in_thirds(spots: Sequence[Spot], i: int) -> bool:
    """Whether this tonic is one of three or more in a row that lie major thirds apart."""
    around = [spots[k % len(spots)] for k in range(i - _CYCLE, i + _CYCLE + 1)]
    tonics = [(s.tonic, s is spots[i]) for s in around if s.is_home and s.kind in MAJORS]
    rows = zip(tonics, tonics[1:], tonics[2:], strict=False)
    return any(
        any(own for _, own in row)
        and (row[1][0] - row[0][0]) % 12 == (row[2][0] - row[1][0]) % 12 in (4, 8)
        for row in rows
    )
