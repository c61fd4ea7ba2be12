"""A free chorus in which one skill must turn up unasked: does practice carry over?

Nothing is printed but the changes; a model answer is kept for the key. Only range is promised: what
is free isn't judged note by note. Source: teaching practice: the skill in three places a chorus at
least, confirmed by ear.
"""

from collections.abc import Sequence
from dataclasses import replace
from random import Random

from changewright.lesson.families import approach_notes, enclosures, guide_tones, two_five_one
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.music.line import Note

__all__ = ["FAMILY"]

_SKILLS = {
    one.FAMILY.id: (one.FAMILY, words)
    for one, words in (
        (guide_tones, "thirds and sevenths reached by step at a change"),
        (approach_notes, "a step into a chord tone on the beat"),
        (enclosures, "a chord tone surrounded before you land on it"),
        (two_five_one, "a phrase that steps home over a two-five-one"),
    )
}


def plan(ground: Ground, dice: Random) -> Plan:
    """An open chorus, with a line of the skill's own family as its model answer."""
    able = [name for name, (skill, _) in _SKILLS.items() if skill.since <= ground.level.number]
    name = ground.variant or dice.choice([n for n in able if n != two_five_one.FAMILY.id])
    skill, words = _SKILLS[name]
    model = skill.plan(replace(ground, variant=""), dice)

    def write(line: Sequence[int]) -> tuple[Note, ...]:
        return tuple(replace(note, blank=True) for note in model.write(line))

    told = f"A chorus of your own: let {words} turn up in three places at least."
    return Plan(model.trellis, write, lambda _: (), told)


FAMILY = Family(
    id="free-chorus",
    title="Free chorus",
    since=3,
    about="an open chorus in which one skill must turn up unasked",
    plan=plan,
    variants=tuple(_SKILLS),
    fallbacks=("", "other strand"),
    checks=True,
)
