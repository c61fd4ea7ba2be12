"""A full-chorus etude: phrases that breathe, a motif that comes back, a high point, an ending.

Source: teaching practice, no published source. The first rhythm of each four bars returns (the motif), the
contour rises to a high point about two thirds through, approaches and enclosures of the level
lead into some of the strong beats, and the last note is a long chord tone.
"""

from fractions import Fraction
from random import Random

from changewright.lesson.families._aiming import Aims, aim, aimed_plan
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.rhythm import Need
from changewright.lesson.spots import Approach

__all__ = ["FAMILY"]

_KINDS = {
    "below": Approach("a semitone below", (-1,)),
    "above": Approach("the scale's note above", ("up",)),
    "above-below": Approach("above and below", ("up", -1)),
    "double-below": Approach("two semitones from below", (-2, -1)),
    "falling": Approach("two scale notes from above, then a semitone below", ("up2", "up", -1)),
}


def plan(ground: Ground, dice: Random) -> Plan:
    """One chorus in everything that the level has."""
    level = ground.level
    named: tuple[str, ...] = level.setting("etude", "figures", ("below", "above"))
    share: float = level.setting("etude", "figure_share", 0.35)
    aims = {
        index: figure
        for index, figure in aim(ground, dice, [_KINDS[n] for n in named], share).items()
        if not _breathes(ground, index - 1)
    }
    return aimed_plan(
        ground,
        dice,
        aims,
        "1 3 5",
        "scale",
        "A whole chorus: let every phrase breathe, and hear where it is going.",
        _needs(ground, aims),
        motif=5.0,
        closing=True,
    )


def _breathes(ground: Ground, index: int) -> bool:
    """A breath at the end of every second bar, as phrases of two and four bars have it."""
    return index % 2 == 1 or index == len(ground.reading.bars) - 1


def _needs(ground: Ground, aims: Aims) -> dict[int, Need]:
    """Half a bar of rest after four bars, a beat after two; the last bar lands and is held.

    Source: rest is 24 to 43 % of the time in professional solos (aggregate figures of the
    Weimar Jazz Database, ODbL).
    """
    needs: dict[int, Need] = {}
    last = len(ground.reading.bars) - 1
    for index in range(last + 1):
        tail = len(aims[index + 1].offsets) if index + 1 in aims else 0
        rest = Fraction(2 if index % 4 == 3 else 1) if _breathes(ground, index) else Fraction(0)
        on_one = index in aims or index == last
        needs[index] = Need(on_one, tail=tail, rest=rest, most=1 if index == last else 99)
    return needs


FAMILY = Family(
    id="etude",
    title="Etude",
    since=3,
    about="a composed chorus with phrases, a motif, a high point and an ending",
    plan=plan,
)
