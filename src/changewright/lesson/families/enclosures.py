"""Enclosures: both neighbours before the target.

Source: teaching practice, types E1 to E6. In the record 11 % of on-beat chord tones are
enclosed and 67 % of enclosures go above, then below (aggregate figures of the Weimar Jazz
Database, ODbL), so an enclosure in every bar is an exercise, not style.
"""

from random import Random

from changewright.lesson.families._aiming import aim, aimed_plan
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.spots import Approach

__all__ = ["FAMILY"]

_KINDS = {
    "above-below": Approach("the scale's note above, then a semitone below", ("up", -1)),
    "below-above": Approach("a semitone below, then the scale's note above", (-1, "up")),
    "semitones": Approach("a semitone above, then a semitone below", (1, -1)),
    "four-note": Approach("two above by semitone, then a semitone below", (2, 1, -1)),
    "double-below": Approach("the scale's note above, then two semitones below", ("up", -2, -1)),
    "falling": Approach("two scale notes from above, then a semitone below", ("up2", "up", -1)),
}


def plan(ground: Ground, dice: Random) -> Plan:
    """A line in the chord's notes or scale, with enclosures into the first beat."""
    level = ground.level
    named = ground.variant or level.setting("enclosures", "kinds", ("above-below",))
    kinds = [_KINDS[k] for k in ((named,) if isinstance(named, str) else named)]
    targets: str = level.setting("enclosures", "targets", "3")
    pool: str = level.setting("enclosures", "pool", "chord")
    middle: float = level.setting("enclosures", "middle_share", 0.0)
    aims = aim(ground, dice, kinds, 0.8, middle)
    used = [k.name for k in kinds if k in aims.values()]
    how = f": {used[0]}" if len(used) == 1 else ""
    return aimed_plan(
        ground,
        dice,
        aims,
        targets,
        pool,
        f"Surround the target before you land on it{how}.",
        anywhere=[k for k in kinds if len(k.offsets) <= 2] if level.number >= 6 else (),
    )


FAMILY = Family(
    id="enclosures",
    title="Enclosures",
    since=4,
    about="both neighbours before the target, two to four notes",
    plan=plan,
    variants=tuple(_KINDS),
)
