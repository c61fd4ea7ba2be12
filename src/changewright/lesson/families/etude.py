"""A full-chorus etude: phrases that breathe, motifs that come back, a high point, an ending.

Source: teaching practice. Cells come back, moved with the harmony and varied (the motifs, see
:mod:`changewright.lesson.motif`), phrases of the library are quoted, chromatic notes keep to the
level's share, the contour rises to a high point about two thirds through, approaches and enclosures
of the level lead into some of the strong beats, and the last note is a long chord tone.
"""

from collections.abc import Mapping
from fractions import Fraction
from random import Random

from changewright.lesson.cells import breath_of
from changewright.lesson.families._aiming import Aims, aim, aimed_plan, need_of
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground
from changewright.lesson.motif import Motif, echoes_of, motifs_of
from changewright.lesson.phrase_fit import Placement
from changewright.lesson.quoting import fitting
from changewright.lesson.rhythm import Flow, Need
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
    breaths = _breaths(ground, dice)
    rests = {ground.reading.bars[i].end for i in breaths}
    drawn = aim(ground, dice, [_KINDS[n] for n in named], share, share / 3)
    end = ground.reading.bars[-1].start
    motifs = _motifs(ground, dice)
    comings = [place for motif in motifs for place in motif]
    places = sorted((*comings, *_set(ground, dice, comings)), key=lambda p: p.bar)
    taken = [(p.start, p.start + sum(b.length for b in p.phrase.bars)) for p in places]
    aims = {
        at: figure
        for at, figure in drawn.items()
        if at not in rests and at <= end and not any(a <= at <= b for a, b in taken)
    }
    return aimed_plan(
        ground,
        dice,
        aims,
        "1 3 5",
        "scale",
        "A whole chorus: let every phrase breathe, and hear where it is going.",
        _needs(ground, aims, breaths),
        flow=Flow(
            density=level.setting("etude", "density", 0.5),
            motif=5.0,
            joined=level.setting("etude", "joined", 0.5),
            upbeat=1.5,
        ),
        closing=True,
        places=places,
        more=[echo for motif in motifs for echo in echoes_of(motif)],
        chromatic=level.chromatic_share,
        sweep=level.setting("etude", "sweep", 9.0),
        crown=ground.fallback == "",
        bold=level.setting("etude", "bold", 0.0),
    )


def _motifs(ground: Ground, dice: Random) -> list[Motif]:
    """As many motifs as the level has. In a short form the second and a phrase of the library take
    turns, since there is room for one of them; a teacher's own phrases go first."""
    wanted: int = ground.level.setting("etude", "motifs", 1)
    phrases = ground.level.setting("etude", "phrases", 0) and ground.fallback in ("", "plain")
    short = len(ground.reading.bars) < 24
    if short and phrases and (ground.phrases or dice.random() < 0.5):
        wanted = 1
    if ground.fallback == "one motif":
        wanted = 1
    return [] if ground.fallback == "free" else motifs_of(ground, dice, wanted)


def _set(ground: Ground, dice: Random, motif: list[Placement]) -> list[Placement]:
    """Some phrases of the library, set in word for word: never in the first bars or the last."""
    wanted: int = ground.level.setting("etude", "phrases", 0)
    if not wanted or ground.fallback not in ("", "plain"):
        return []
    last = len(ground.reading.bars) - 1
    near = min(ground.level.number, 6) - 2
    able = [
        p
        for places in fitting(ground, chords=2, least=near).values()
        for p in places
        if p.bar >= 2 and last not in p.bars
    ]
    own = {p.name for p in ground.phrases}
    able = [p for p in able if all(_breathes_between(p, other) for other in motif)]
    mixed = sorted(dice.sample(able, len(able)), key=lambda p: p.phrase.name not in own)
    found: list[Placement] = []
    for place in mixed:
        if len(found) < wanted and all(_clear(place, other) for other in found):
            found.append(place)
    return sorted(found, key=lambda p: p.bar)


def _breathes_between(one: Placement, other: Placement) -> bool:
    """Tell whether a beat of rest at least lies between two set figures, so that they need not
    join."""
    first, second = sorted((one, other), key=lambda p: p.start)
    if second.bar < first.bars.stop:
        return False
    return second.start + second.phrase.notes[0].at - first.start - first.phrase.end >= 1


def _clear(one: Placement, other: Placement) -> bool:
    """Tell whether two bars at least lie between two phrases, and that they differ."""
    gap = max(one.bar, other.bar) - min(one.bars.stop, other.bars.stop)
    return gap >= 2 and one.phrase.name != other.phrase.name


def _breaths(ground: Ground, dice: Random) -> dict[int, bool]:
    """The bars at whose ends to breathe, and whether to do so for longer: after every second bar,
    at upper levels after two to four of them, as far as the player's breath goes."""
    least, most = ground.level.setting("etude", "phrase_bars", (2, 2))
    bars = ground.reading.bars
    twice = 2 if bars[0].length <= 2 else 1
    most = min(most, ground.bars_a_breath)
    found: dict[int, bool] = {}
    index, last = -1, len(bars) - 1
    while index < last:
        length = twice * dice.randint(min(least, most), most)
        index = last if last - index < length + 2 * twice else index + length
        found[index] = index % 4 == 3 if least == most else length > 2 or dice.random() < 0.75
    return found


def _needs(ground: Ground, aims: Aims, breaths: Mapping[int, bool]) -> dict[int, Need]:
    """A rest of a beat or of half a bar at each breath; the last bar lands and is held.

    Source: rest is 24 to 43 % of the time in professional solos (aggregate figures of the
    Weimar Jazz Database, ODbL).
    """
    last = len(ground.reading.bars) - 1
    return {
        index: need_of(
            bar,
            aims,
            breath_of(bar, breaths[index]) if index in breaths else Fraction(0),
            most=1 if index == last else 99,
            on_one=index == last,
        )
        for index, bar in enumerate(ground.reading.bars)
    }


FAMILY = Family(
    id="etude",
    title="Etude",
    since=3,
    about="a composed chorus with phrases, motifs, a high point and an ending",
    plan=plan,
    fallbacks=("", "plain", "motifs", "one motif", "free"),
)
