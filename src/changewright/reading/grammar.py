"""What chords do, as costs: which states a chord may be in, and how one state leads on.

A state is a role together with a tonic: *dominant on the way to C*, *at home in F*. The roles are
those of the annotated corpus that the analysis is checked against: a chain of dominants (with
their iis, tritone substitutes, backdoor and diminished stand-ins) belongs to the tonic that it
finally reaches. A cost of 1 is about what a teacher would call "possible, but say why"; only
differences count. The weights are set by hand, each for the reason beside it.
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
_DOMINANTS = frozenset((_K.DOMINANT, _K.AUGMENTED, _K.SUSPENDED))
_MAJORS = frozenset((_K.MAJOR, _K.MAJOR7))
_TWOS = frozenset((_K.MINOR, _K.MINOR7, _K.MINOR6, _K.HALF_DIMINISHED))

# --- what a chord may be -------------------------------------------------------------------------
# Degrees are semitones of the chord's root above the tonic.

# How naturally a chord on the first degree is home.
_HOME = {
    _K.MAJOR: 0.0, _K.MAJOR7: 0.0, _K.MINOR6: 0.2, _K.MINOR: 0.2, _K.MINOR7: 0.7,
    _K.DOMINANT: 1.0, _K.SUSPENDED: 3.0, _K.AUGMENTED: 3.0, _K.HALF_DIMINISHED: 4.0,
    _K.DIMINISHED: 3.0,
}  # fmt: skip
_HOME_BY_PROXY = 2.3  # iii or vi for I, bVI for i

# How far back in the chain a dominant stands: V, II, VI, III, VII; their tritone substitutes;
# bVII by the back door. IV7 has better things to be; I7 pulls to IV, not back to I, and so does
# the vm7 before it.
_DOMINANT_ON = {7: 0.0, 2: 0.1, 9: 0.2, 4: 0.3, 11: 0.4, 6: 0.6,
                1: 0.2, 8: 0.3, 3: 0.4, 10: 0.5, 5: 0.9, 0: 1.5}  # fmt: skip
# The same for a minor or half-diminished chord: ii, then the iis of the other dominants.
_TWO_ON = {2: 0.0, 9: 0.2, 4: 0.2, 11: 0.4, 6: 0.6, 5: 0.5, 8: 0.7, 3: 0.5, 10: 0.7, 1: 0.8,
           7: 1.0, 0: 1.5}  # fmt: skip
_SETTLED = {_K.MINOR: 0.4, _K.MINOR6: 0.8}  # without a seventh it wants to stay
# A major chord hardly ever is a link, unless a whole turnaround is played in major sevenths.
_MAJOR_ON = {1: 1.0, 8: 1.0, 3: 1.0}
_TRIAD_ON = {7: 0.3, 2: 1.5}  # a five may do without its seventh
_MAJOR_IN_CHAIN = 3.0
_DIMINISHED_IN_CHAIN = 0.3
_BORROWED = 1.0  # bIII, bVI and bVII beside a major home
_MINOR_FOUR, _FLAT_TWO = 0.65, 1.0
_FOUR, _COLOUR_FOUR, _COLOUR_TWO, _PASSING = 0.95, 0.5, 0.7, 0.3  # a touch of IV is colour first


@cache
def states_of(kind: Kind) -> tuple[tuple[State, float], ...]:
    """Every state a chord of this kind may be in, with its cost."""
    found: dict[State, float] = {}
    for degree in range(12):
        for role, being in _BEINGS.items():
            cost = being(kind, degree)
            if cost is not None:
                found[role, -degree % 12] = cost
    return tuple(found.items())


def _tonic(kind: Kind, degree: int) -> float | None:
    if degree == 0:
        return _HOME[kind]
    if (degree == 8 and kind in _MAJORS) or (degree in (4, 9) and kind is _K.MINOR7):
        return _HOME_BY_PROXY
    return None


def _dominant(kind: Kind, degree: int) -> float | None:
    if kind in _DOMINANTS:
        return _DOMINANT_ON[degree]
    if kind in _TWOS:
        return _TWO_ON[degree] + _SETTLED.get(kind, 0.0)
    if kind is Kind.DIMINISHED:
        return _DIMINISHED_IN_CHAIN
    seldom = _MAJOR_ON if kind is _K.MAJOR7 else _TRIAD_ON
    return seldom.get(degree, _MAJOR_IN_CHAIN)


def _subdominant(kind: Kind, degree: int) -> float | None:
    if degree == 5 and kind is not _K.DIMINISHED:
        return _MINOR_FOUR if kind in _TWOS else _FOUR
    return _FLAT_TWO if degree == 1 and kind in _MAJORS else None


def _colour(kind: Kind, degree: int) -> float | None:
    if degree == 5 and kind in (_MAJORS | {_K.DOMINANT}):
        return _COLOUR_FOUR
    if degree in (3, 8, 10) and kind in _MAJORS:
        return _BORROWED
    return _COLOUR_TWO if degree == 2 and kind in (_K.MINOR, _K.MINOR7) else None


def _passing(kind: Kind, degree: int) -> float | None:
    return _PASSING if kind is Kind.DIMINISHED and degree in (6, 0) else None


_BEINGS = {
    Role.TONIC: _tonic,
    Role.DOMINANT: _dominant,
    Role.SUBDOMINANT: _subdominant,
    Role.COLOUR: _colour,
    Role.PASSING: _passing,
}

# --- how one link of a chain leads to the next ---------------------------------------------------
# By how many semitones the root rises; anything else costs _STRAY.
_STRAY = 1.2
_Steps = dict[int, float]
_FIVE_TO_FIVE: _Steps = {5: 0.0, 11: 0.0, 0: 0.1, 6: 0.4, 2: 0.8, 7: 0.8}
# G7 to Cm7, Gm7, Dm7 (the ii comes back), Gbm7, Dbm7 (a tritone off), Em7 (iii for I), Bm7, Am7
_FIVE_TO_TWO: _Steps = {5: 0.0, 0: 0.1, 7: 0.2, 11: 0.2, 6: 0.3, 9: 0.4, 4: 0.5, 2: 0.6}
_TWO_TO_FIVE: _Steps = {5: 0.0, 11: 0.1, 0: 0.2, 6: 0.4, 1: 0.6}
_TWO_TO_TWO: _Steps = {5: 0.1, 0: 0.05, 11: 0.2, 6: 0.4, 10: 0.6, 7: 0.6}
_TO_DIMINISHED: _Steps = {1: 0.2, 11: 0.2, 0: 0.3}
# Any of its four tones may be the leading tone: up a semitone it is a V7(b9) without its root.
_FROM_DIMINISHED: _Steps = {1: 0.0, 11: 0.1, 4: 0.2, 7: 0.2, 10: 0.2,
                            0: 0.4, 2: 0.4, 5: 0.4, 8: 0.4}  # fmt: skip
_MAJOR_AFTER_FIVE = 1.5  # that would be an arrival
_FROM_MAJOR: _Steps = {5: 0.1, 0: 0.3, 11: 0.3}

# --- how a chain arrives -------------------------------------------------------------------------
# V to I, the tritone substitute down a semitone, by the back door up a tone; III7 up to IV.
_FIVE_HOME: _Steps = {5: 0.0, 11: 0.1, 2: 0.4, 1: 0.5}
_DIMINISHED_HOME: _Steps = {1: 0.1, 11: 0.5, 4: 0.3, 7: 0.3, 10: 0.3, 0: 0.4}
_HALF_DIMINISHED_HOME = 0.7  # Dø7 to C: most of a G7(b9), or of a Bb9
_MINOR_FIVE_HOME = 1.0  # vm7 or vø7 to i, without a leading note
_MAJOR_HOME = 0.5  # Dbmaj7 to Cmaj7
_NO_ARRIVAL = 3.4

# --- how the rest leads on, the tonic unchanged --------------------------------------------------
_LEADS: dict[tuple[Role, Role], float] = {
    (Role.TONIC, Role.TONIC): 0.0,
    (Role.TONIC, Role.DOMINANT): 0.0,
    (Role.TONIC, Role.SUBDOMINANT): 0.45,
    (Role.TONIC, Role.COLOUR): 0.1,
    (Role.TONIC, Role.PASSING): 0.4,
    (Role.COLOUR, Role.TONIC): 0.0,
    (Role.COLOUR, Role.COLOUR): 0.3,
    (Role.COLOUR, Role.DOMINANT): 0.3,
    (Role.COLOUR, Role.PASSING): 0.2,
    (Role.COLOUR, Role.SUBDOMINANT): 1.0,
    (Role.SUBDOMINANT, Role.TONIC): 0.0,
    (Role.SUBDOMINANT, Role.SUBDOMINANT): 0.1,
    (Role.SUBDOMINANT, Role.PASSING): 0.0,
    (Role.SUBDOMINANT, Role.DOMINANT): 0.5,
    (Role.PASSING, Role.TONIC): 0.0,
    (Role.PASSING, Role.DOMINANT): 0.6,
}
_ODD = 1.5
_ITS_OWN_FIVE = 0.8  # Em7 to A7, Fm7 to Bb7: rather a two than anything else
_WALK_TO_THREE = -1.5  # I ii iii: home, seen from a step and from a third above
_SEVENTH_TO_FOUR = 1.0  # C7 to Fmaj7: rather the five of four than home and a colour
_LIGHT_TO_DARK = 1.2  # Fmaj7 to Fm7: the second one is on its way somewhere
_STRUCK_AGAIN = 0.95  # why strike a chord again in the same bar if it stays as it is?
_TURNING = 0.5  # ... and if it turns into a five, all the better

# --- how the tonic changes -----------------------------------------------------------------------
_NEW_CHAIN = 0.7  # home, and then a chain to somewhere else
_NEW_HOME = 1.8  # home, and then home elsewhere without a cadence
_FOUR_AS_HOME = 0.1  # the four that was reached by its own five turns back to being the four
# A chain that never arrives shares the goal of the one that takes over from it.
_BROKEN_CHAIN = 4.0


@cache
def arrivals(
    before: Kind, after: Kind, step: int, again: bool = False
) -> tuple[tuple[float, ...], ...]:
    """Costs of going from each state of one chord to each state of the next.

    Row by row of the next chord's states, a cost for each state of the chord before. ``step`` is
    how many semitones the root rises; ``again`` tells that the same chord is struck again.
    """
    sources = [state for state, _ in states_of(before)]
    return tuple(
        tuple(
            _transition(a, b, before, after, step) + (_pivot(a, b) if again else 0.0)
            for a in sources
        )
        for b, _ in states_of(after)
    )


def _pivot(a: State, b: State) -> float:
    if a[0] is Role.DOMINANT:
        return 0.0
    return _STRUCK_AGAIN if a == b else -_TURNING if b[0] is Role.DOMINANT else 0.0


def _transition(a: State, b: State, before: Kind, after: Kind, step: int) -> float:
    (role_a, offset_a), (role_b, offset_b) = a, b
    same = offset_a == (offset_b + step) % 12
    if not same:
        return _move(a, b, before, after, step)
    if role_a is role_b is Role.TONIC and step == 0 and (before in _TWOS) != (after in _TWOS):
        return _LIGHT_TO_DARK
    if role_a is not Role.DOMINANT:
        return _by_roots(a, b, before, after, step) + _LEADS.get((role_a, role_b), _ODD)
    if role_b is Role.DOMINANT:
        return _chain(before, after, step)
    if role_b is Role.TONIC:
        return _arrive(before, step)
    retreat = role_b is Role.SUBDOMINANT and step == 10  # V7 to IV7, as in the blues
    return 0.6 if retreat and before in (_DOMINANTS | {_K.MAJOR}) else _NO_ARRIVAL


def _by_roots(a: State, b: State, before: Kind, after: Kind, step: int) -> float:
    """Where the roots matter as well: a ii that is followed by its V is nothing else."""
    (role_a, offset_a), (role_b, offset_b) = a, b
    if before in _TWOS and role_b is Role.DOMINANT and step == 5 and offset_a:
        return _ITS_OWN_FIVE
    if before is _K.DOMINANT and after in _MAJORS and step == 5 and role_a is Role.TONIC:
        return _SEVENTH_TO_FOUR
    if before is _K.MINOR7 and after in _DOMINANTS and step == 5 and role_b is Role.COLOUR:
        return _ITS_OWN_FIVE
    walk = (role_a, role_b) == (Role.COLOUR, Role.TONIC) and step == 2 and before is _K.MINOR7
    return _WALK_TO_THREE if walk and offset_b == 8 else 0.0


def _chain(before: Kind, after: Kind, step: int) -> float:
    if after is Kind.DIMINISHED:
        return _TO_DIMINISHED.get(step, 0.5)
    if before is Kind.DIMINISHED:
        return _FROM_DIMINISHED.get(step, _STRAY)
    if before in _MAJORS:
        return _FROM_MAJOR.get(step, _STRAY)
    if after in _MAJORS and not (after is _K.MAJOR and before in _TWOS):
        return _MAJOR_AFTER_FIVE
    if before in _TWOS:
        return (_TWO_TO_TWO if after in _TWOS else _TWO_TO_FIVE).get(step, _STRAY)
    return (_FIVE_TO_TWO if after in _TWOS else _FIVE_TO_FIVE).get(step, _STRAY)


def _arrive(before: Kind, step: int) -> float:
    if before in _DOMINANTS or (before is _K.MAJOR and step == 5):
        return _FIVE_HOME.get(step, _NO_ARRIVAL)
    if before is Kind.DIMINISHED:
        return _DIMINISHED_HOME.get(step, 1.0)
    if before in _TWOS and step == 5:
        return _MINOR_FIVE_HOME
    if before is Kind.MAJOR7 and step == 11:
        return _MAJOR_HOME
    if before is Kind.HALF_DIMINISHED and step == 10:
        return _HALF_DIMINISHED_HOME
    return _NO_ARRIVAL


def _move(a: State, b: State, before: Kind, after: Kind, step: int) -> float:
    (role_a, offset_a), (role_b, offset_b) = a, b
    if role_a is Role.DOMINANT:
        return _BROKEN_CHAIN
    turned = (offset_b + step - offset_a) % 12  # how far the tonic rises
    if role_a is Role.TONIC and turned == 7 and role_b in (Role.SUBDOMINANT, Role.PASSING):
        return _FOUR_AS_HOME
    cost = _NEW_CHAIN if role_b is Role.DOMINANT else _NEW_HOME
    if before is _K.MINOR7 and after in _DOMINANTS and role_b is Role.DOMINANT and step == 5:
        cost += _ITS_OWN_FIVE
    if role_a is Role.TONIC and turned == 7 and role_b is Role.TONIC and after not in _TWOS:
        cost = _NEW_CHAIN  # IV back to I
    return cost + (0.0 if role_a is Role.TONIC else 0.5)
