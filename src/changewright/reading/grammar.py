"""What chords do, as costs: which states a chord may be in, and how one state leads on.

A state is a role together with a tonic: *dominant on the way to C*, *at home in F*. The roles are
those of the annotated corpus that the analysis is checked against: a chain of dominants (with
their iis, tritone substitutes, backdoor and diminished stand-ins) belongs to the tonic that it
finally reaches. A cost of 1 is about what a teacher would call "possible, but say why".
"""

from enum import StrEnum
from functools import cache

from changewright.reading.heard import Kind

__all__ = ["Role", "State", "arrivals", "states_of"]


class Role(StrEnum):
    """What a chord does, at the grain on which the costs are set."""

    TONIC = "T"
    DOMINANT = "D"
    SUBDOMINANT = "S"
    COLOUR = "C"
    PASSING = "P"


State = tuple[Role, int]
"""A role, and the tonic as semitones above the chord's root."""

_K = Kind
_DOMINANTS = (_K.DOMINANT, _K.AUGMENTED, _K.SUSPENDED)
_MAJORS = (_K.MAJOR, _K.MAJOR7)
_MINORS = (_K.MINOR, _K.MINOR7, _K.MINOR6)

# Degrees are semitones of the chord's root above the tonic.
_HOME = {
    _K.MAJOR: 0.0, _K.MAJOR7: 0.0, _K.MINOR6: 0.2, _K.MINOR: 0.2, _K.MINOR7: 0.6,
    _K.DOMINANT: 0.8, _K.SUSPENDED: 3.0, _K.AUGMENTED: 3.0, _K.HALF_DIMINISHED: 4.0,
    _K.DIMINISHED: 3.0, _K.SILENT: 1.0,
}  # fmt: skip
_DOMINANT_DEGREE = {7: 0.0, 2: 0.3, 9: 0.3, 4: 0.4, 11: 0.6, 1: 0.4, 3: 0.5, 8: 0.5,
                    10: 0.6, 5: 0.9, 6: 0.9, 0: 2.5}  # fmt: skip
_TWO_DEGREE = {2: 0.0, 4: 0.4, 9: 0.4, 11: 0.6, 5: 0.7, 7: 1.2, 3: 0.7, 1: 1.0, 8: 1.2,
               6: 0.8, 10: 1.0, 0: 2.5}  # fmt: skip


@cache
def states_of(kind: Kind) -> tuple[tuple[State, float], ...]:
    """Every state a chord of this kind may be in, with its cost."""
    found: dict[State, float] = {}
    for degree in range(12):
        offset = -degree % 12
        for role in Role:
            cost = _emission(role, kind, degree)
            if cost is not None:
                found[role, offset] = cost
    return tuple(found.items())


def _emission(role: Role, kind: Kind, degree: int) -> float | None:
    match role:
        case Role.TONIC:
            return _tonic(kind, degree)
        case Role.DOMINANT:
            return _dominant(kind, degree)
        case Role.SUBDOMINANT:
            return _subdominant(kind, degree)
        case Role.COLOUR:
            return _colour(kind, degree)
        case Role.PASSING:
            return 0.5 if kind is Kind.DIMINISHED and degree in (6, 0, 9) else None


def _tonic(kind: Kind, degree: int) -> float | None:
    if degree == 0:
        return _HOME[kind]
    if (degree == 8 and kind in _MAJORS) or (degree in (4, 9) and kind in _MINORS):
        return 2.0
    return None


def _dominant(kind: Kind, degree: int) -> float | None:
    if kind in _DOMINANTS:
        return _DOMINANT_DEGREE[degree]
    if kind in _MINORS:
        return _TWO_DEGREE[degree] + (0.5 if kind is Kind.MINOR6 else 0.0)
    if kind is Kind.HALF_DIMINISHED:
        return _TWO_DEGREE[degree]
    if kind is Kind.DIMINISHED:
        return 0.3
    if kind is Kind.SILENT:
        return 1.0
    return 2.5 + (1.5 if degree == 0 else 0.0)


def _subdominant(kind: Kind, degree: int) -> float | None:
    return 0.8 if degree == 5 and kind in (*_MAJORS, *_MINORS, _K.DOMINANT) else None


def _colour(kind: Kind, degree: int) -> float | None:
    if degree == 5 and kind in (*_MAJORS, _K.DOMINANT):
        return 0.8
    return 1.2 if degree == 2 and kind in _MINORS else None


_CHAIN = {5: 0.0, 11: 0.1, 0: 0.2, 7: 0.4, 6: 0.6, 2: 0.8, 9: 0.6, 4: 0.6, 1: 0.5, 10: 0.6,
          8: 0.9, 3: 0.9}  # fmt: skip
_ARRIVE = {5: 0.0, 11: 0.2, 2: 0.6, 1: 0.5, 0: 1.5, 7: 2.0}
_SWITCH = 2.5


@cache
def arrivals(before: Kind, after: Kind, step: int) -> tuple[tuple[float, ...], ...]:
    """Costs of going from each state of one chord to each state of the next.

    Row by row of the next chord's states, a cost for each state of the chord before. ``step`` is
    how many semitones the root rises.
    """
    froms = [state for state, _ in states_of(before)]
    return tuple(
        tuple(_transition(a, b, before, after, step) for a in froms) for b, _ in states_of(after)
    )


def _transition(a: State, b: State, kind: Kind, after: Kind, step: int) -> float:
    (role_a, offset_a), (role_b, offset_b) = a, b
    same = offset_a == (offset_b + step) % 12
    if role_a is Role.DOMINANT:
        return _from_dominant(role_b, same, kind, after, step)
    if not same:
        return (
            _SWITCH
            + (1.5 if role_b is not Role.DOMINANT else 0.0)
            - (1.0 if role_b is Role.DOMINANT and role_a is Role.TONIC else 0.0)
            + (1.0 if role_a is not Role.TONIC else 0.0)
        )
    return _SAME.get((role_a, role_b), 1.5)


def _from_dominant(role_b: Role, same: bool, kind: Kind, after: Kind, step: int) -> float:
    minor = after in _MINORS or after is Kind.HALF_DIMINISHED
    if not same:
        return 3.0 if role_b is Role.DOMINANT else 4.0
    if role_b is Role.DOMINANT:
        return _CHAIN[step] + (0.8 if step == 7 and not (kind in _DOMINANTS and minor) else 0.0)
    if role_b is Role.TONIC:
        fit = _ARRIVE.get(step, 3.0)
        return fit + (1.5 if kind in _MINORS or kind is Kind.HALF_DIMINISHED else 0.0)
    return 0.9 if role_b is Role.SUBDOMINANT and kind in _DOMINANTS and step == 10 else 3.0


_SAME = {
    (Role.TONIC, Role.TONIC): 0.0, (Role.TONIC, Role.DOMINANT): 0.2,
    (Role.TONIC, Role.SUBDOMINANT): 0.3, (Role.TONIC, Role.COLOUR): 0.3,
    (Role.COLOUR, Role.TONIC): 0.0, (Role.COLOUR, Role.DOMINANT): 1.0,
    (Role.SUBDOMINANT, Role.TONIC): 0.0, (Role.SUBDOMINANT, Role.SUBDOMINANT): 0.1,
    (Role.SUBDOMINANT, Role.PASSING): 0.1, (Role.PASSING, Role.TONIC): 0.1,
    (Role.SUBDOMINANT, Role.DOMINANT): 1.0, (Role.TONIC, Role.PASSING): 1.0,
    (Role.COLOUR, Role.PASSING): 0.1,
}  # fmt: skip
