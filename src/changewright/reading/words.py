"""What a chord does, in words and in signs: "five of two", ``V7/ii``."""

from collections.abc import Sequence

from changewright.reading.grammar import Role
from changewright.reading.heard import Kind
from changewright.reading.numerals import degree_words, roman, scale_degree
from changewright.reading.rules import target_of
from changewright.reading.spot import MINORS, TWOS, Spot
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name

__all__ = ["doing_of", "relation_of"]

_UP_A_FOURTH = Interval.parse("P4")


def relation_of(spots: Sequence[Spot], i: int) -> str:
    """Say in signs what a dominant or its ii belongs to; empty where the numeral says it all."""
    spot, after, target = spots[i], spots[(i + 1) % len(spots)], target_of(spots, i)
    if spot.role is not Role.DOMINANT:
        return ""
    if spot.is_five:
        sign, name = _five(spot, after, target)
        return _over(sign, name, target, spot.key)
    if spot.kind in TWOS and after.is_five and spot.step_to(after) in (5, 11):
        five, goal = _five(
            after, spots[(i + 2) % len(spots)], target_of(spots, (i + 1) % len(spots))
        )
        two = "iiø" if spot.kind is Kind.HALF_DIMINISHED else "ii"
        beyond = target_of(spots, (i + 1) % len(spots))
        if spot.step_to(after) != 5:
            return ""
        return _over(two, goal, beyond, spot.key) if five == "V7" else f"{two}/{five}"
    if spot.kind is Kind.DIMINISHED and spot.step_to(after) == 1:
        return _over("vii°7", after.root, after, spot.key)
    return ""


def _five(spot: Spot, after: Spot, target: Spot) -> tuple[str, Name]:
    """What kind of five it is, and of what."""
    step = spot.step_to(target)
    if spot.degree == 10 and (step == 2 and target.role is Role.TONIC):
        return "bVII7", target.root
    if spot.degree == 10 and after.degree == 4 and after.kind in TWOS and after.key == spot.key:
        return "bVII7", spot.key.tonic
    if step == 11:
        return "subV7", target.root
    return "V7", target.root if step == 5 else spot.root + _UP_A_FOURTH


def _over(sign: str, goal: Name, target: Spot, key: Key) -> str:
    if goal.pc == key.tonic.pc:
        return sign if sign in ("subV7", "vii°7") else ""
    small = target.kind in TWOS if target.event.root == goal.pc else False
    return f"{sign}/{roman(scale_degree(goal, key.tonic, False), small)}"


def doing_of(spots: Sequence[Spot], i: int) -> str:
    """Say in words what the chord does."""
    spot = spots[i]
    match spot.role:
        case Role.TONIC:
            return _at_home(spots, i)
        case Role.SUBDOMINANT:
            return _four(spot)
        case Role.COLOUR:
            return _colouring(spot, spots[(i + 1) % len(spots)])
        case Role.PASSING:
            return f"{_degree(spot)} diminished, passing back to home"
        case Role.DOMINANT:
            return _leading(spots, i)


def _degree(spot: Spot) -> str:
    rises = spot.kind is Kind.DIMINISHED
    return degree_words(scale_degree(spot.root, spot.key.tonic, rises))


def _at_home(spots: Sequence[Spot], i: int) -> str:
    spot = spots[i]
    if not spot.is_home:
        return f"{_degree(spot)}, standing in for home"
    if spot.degree == 0:
        if spot.blues:
            return "home in the blues"
        return "home in minor" if spot.kind in MINORS else "home"
    of_blues = " of the blues" if spot.blues and spot.degree == 5 else ""
    led_to = spots[i - 1].goal == spot.goal and spots[i - 1].role is Role.DOMINANT
    return f"{_degree(spot)}{of_blues}, " + (
        "reached by its own five" if led_to else "at rest for the moment"
    )


def _colouring(spot: Spot, after: Spot) -> str:
    if spot.blues and spot.degree == 5:
        return "four of the blues, a quick change"
    if after.role is Role.TONIC:
        return f"{_degree(spot)}, colouring home"
    return "two, its five left out" if spot.degree == 2 else _degree(spot)


def _four(spot: Spot) -> str:
    if spot.degree == 1:
        return "flat two, a shadow over the five"
    if spot.blues and spot.kind is Kind.DOMINANT:
        return "four of the blues"
    minor = spot.kind in TWOS and spot.key.mode == "major"
    return "minor four, borrowed" if minor else "four"


def _leading(spots: Sequence[Spot], i: int) -> str:
    spot, after, target = spots[i], spots[(i + 1) % len(spots)], target_of(spots, i)
    if spot.is_five:
        return _five_words(spot, after, target)
    if spot.kind in TWOS and after.is_five and spot.step_to(after) in (5, 11):
        return _two_words(spots, i)
    if spot.kind is Kind.DIMINISHED:
        return _diminished_words(spot, after)
    if spot.kind in TWOS and after.kind in TWOS and spot.step_to(after) in (5, 11):
        borrowed = "minor " if spot.degree == 5 and spot.key.mode == "major" else ""
        return f"{borrowed}{_degree(spot)}, leading on to {after.text}"
    if spot.kind in TWOS and after.kind is Kind.DIMINISHED:
        return f"{_degree(spot)}, leading on to {after.text}"
    if spot.kind in TWOS and spot.degree == 2 and after.role is Role.TONIC:
        return "two, its five left out"
    return f"{_degree(spot)}, on the way to {spot.goal.words}"


def _five_words(spot: Spot, after: Spot, target: Spot) -> str:
    sign, goal = _five(spot, after, target)
    at_home = goal.pc == spot.key.tonic.pc
    resolves = target.event.root == goal.pc
    name = degree_words(scale_degree(goal, spot.key.tonic, False))
    if sign == "bVII7":
        three = "" if after.role is Role.TONIC else ", to the three"
        return f"flat seven, home by the back door{three}"
    if sign == "subV7":
        return f"tritone substitute for the five{'' if at_home else f' of {name}'}"
    if resolves and after is target:
        return "five, going home" if at_home else f"five of {name}"
    return f"five{'' if at_home else f' of {name}'}, {_delay(spot, after, at_home)}"


def _delay(spot: Spot, after: Spot, at_home: bool) -> str:
    """Why a five doesn't go where it wants to."""
    if spot.step_to(after) == 0:
        held = spot.kind is Kind.SUSPENDED and after.is_five
        return f"suspended before {after.text}" if held else f"giving way to {after.text}"
    if after.role is Role.TONIC:
        return f"resolving deceptively to {after.text}"
    return "home still to come" if at_home else "its resolution still to come"


def _two_words(spots: Sequence[Spot], i: int) -> str:
    spot, after = spots[i], spots[(i + 1) % len(spots)]
    sign, goal = _five(after, spots[(i + 2) % len(spots)], target_of(spots, (i + 1) % len(spots)))
    name = degree_words(scale_degree(goal, spot.key.tonic, False))
    of = "" if goal.pc == spot.key.tonic.pc else f" of {name}"
    if sign == "bVII7":
        return "minor four, the two of the back door"
    if spot.step_to(after) != 5:
        of = "" if spot.degree == 2 else of
        return f"two{of}, sliding down to {after.text}"
    return f"related two of the tritone substitute{of}" if sign == "subV7" else f"two{of}"


def _diminished_words(spot: Spot, after: Spot) -> str:
    step = spot.step_to(after)
    if step == 1:
        of = degree_words(scale_degree(after.root, spot.key.tonic, False))
        at_home = after.event.root == spot.key.tonic.pc
        return f"five{'' if at_home else f' of {of}'} without its root"
    bass = after.chord.bass
    if bass is not None and (bass.pc - spot.event.root) % 12 == 1:
        return f"{_degree(spot)} diminished, rising to the bass of {after.text}"
    if step == 11:
        return f"{_degree(spot)} diminished, passing down to {after.text}"
    return f"{_degree(spot)} diminished, leading to {after.text}"
