"""Approach notes: a step into a chord tone on the beat, from the eighth before it.

Source: teaching practice: chromatic from below first, then the scale's step and the
semitone above, then double chromatics. Professionals come into on-beat chord tones from a
semitone below, a semitone above, a tone below and a tone above in 16, 16, 11 and 15 of a hundred
(aggregate figures of the Weimar Jazz Database, ODbL).
"""

from random import Random

from changewright.lesson.families._aiming import aim, aimed_plan
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.spots import Approach

__all__ = ["FAMILY"]

_KINDS = {
    "below": Approach("a semitone below", (-1,)),
    "above": Approach("a semitone above", (1,)),
    "scale": Approach("the scale's note above", ("up",)),
    "double-below": Approach("two semitones from below", (-2, -1)),
    "double-above": Approach("two semitones from above", (2, 1)),
}


def plan(ground: Ground, dice: Random) -> Plan:
    """Chord tones, with approach notes into the first beat of most bars."""
    level = ground.level
    named = ground.variant or level.setting("approach-notes", "kinds", ("below",))
    kinds = [_KINDS[k] for k in ((named,) if isinstance(named, str) else named)]
    targets: str = level.setting("approach-notes", "targets", "3 5")
    pool: str = level.setting("approach-notes", "pool", "chord")
    middle: float = level.setting("approach-notes", "middle_share", 0.0)
    aims = aim(ground, dice, kinds, 0.9, middle)
    used = [k.name for k in kinds if k in aims.values()]
    words = f"from {' or '.join(used)}" if len(used) < 3 else "by step"
    return aimed_plan(
        ground,
        dice,
        aims,
        targets,
        pool,
        f"Slide into the chord tone on the beat {words}; light approach, singing target.",
        anywhere=[k for k in kinds if len(k.offsets) <= 2] if level.number >= 6 else (),
    )


FAMILY = Family(
    id="approach-notes",
    title="Approach notes",
    since=3,
    about="a step into a chord tone on the beat, from the eighth before",
    plan=plan,
    variants=tuple(_KINDS),
)
