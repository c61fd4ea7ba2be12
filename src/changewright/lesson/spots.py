"""Spots: the notes of a line before their pitches are chosen, and what is asked of each."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from random import Random

from changewright.lesson.ground import Ground, Patch
from changewright.music.bar import Quarters
from changewright.music.line import Role
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree

__all__ = [
    "Approach",
    "Pool",
    "Row",
    "Spot",
    "crowned",
    "degree_of",
    "offset",
    "phrased",
    "pool_of",
    "rows",
    "spots_of",
    "swell",
]

Pool = tuple[Degree, ...]


@dataclass(frozen=True, slots=True)
class Approach:
    """Notes that lead to a target: each as semitones from it, or ``"up"`` and ``"down"`` for the
    next note of the scale above and below; ``"up2"`` is the second above."""

    name: str
    offsets: tuple[int | str, ...]


@dataclass(frozen=True, slots=True)
class Spot:
    """A note to be chosen.

    ``patch`` is the chord it belongs to (of an anticipation, the one to come); ``pool`` the
    degrees allowed, ``target`` the degrees it must be one of, ``entry`` the widest move into it
    in semitones. ``approach`` and ``place`` say which note of which approach this is; the spot
    after the last of them is its target and carries the approach with ``place`` -1. ``link``
    is the exact interval from the note before, in a phrase that is quoted; ``fixed`` the MIDI
    number of a note of the melody. No note lies higher than ``top``, and the ``peak`` just there.
    """

    at: Quarters
    duration: Quarters
    patch: Patch
    pool: Pool
    target: Pool = ()
    entry: int = 99
    approach: Approach | None = None
    place: int = -1
    blank: bool = False
    fresh: bool = False
    ends: bool = False
    role: Role | None = None
    height: float | None = None
    link: int | None = None
    fixed: int | None = None
    top: int | None = None
    peak: bool = False

    @property
    def leads(self) -> bool:
        """Tell whether this is a note of an approach, not a target or free."""
        return self.approach is not None and self.place >= 0


def pool_of(patch: Patch, kind: str) -> Pool:
    """The degrees that a family allows: ``chord``, ``guide``, or ``scale`` (chord tones and the
    first-choice scale)."""
    if kind == "guide":
        return patch.chord.guide_tones or patch.chord.four
    return patch.tones if kind == "chord" else patch.scale


def degree_of(pool: Pool, chord: Chord, midi: int) -> Degree | None:
    """The degree of a pool that a MIDI number sounds."""
    return None if chord.root is None else row_of(pool, chord.root.pc)[midi % 12]


Row = tuple[Degree | None, ...]
"""What each of the twelve pitch classes is in a pool."""


@lru_cache(maxsize=2048)
def row_of(pool: Pool, root: int) -> Row:
    found = {(root + d.pc) % 12: d for d in reversed(pool)}
    return tuple(found.get(pc) for pc in range(12))


def rows(patch: Patch, pool: Pool) -> tuple[Row, Row]:
    """The rows of a pool and of the patch's scale."""
    root = patch.chord.root
    pc = 0 if root is None else root.pc
    return row_of(pool, pc), row_of(pool_of(patch, "scale"), pc)


def offset(scale: Row, target: int, step: int | str) -> int:
    """The MIDI number of an approach note of a target."""
    if isinstance(step, int):
        return target + step
    way, count = {"up": (1, 1), "up2": (1, 2), "down": (-1, 1)}[step]
    for _ in range(count):
        target += way
        while scale[target % 12] is None:
            target += way
    return target


def spots_of(
    ground: Ground, timed: Iterable[tuple[Quarters, Quarters]], kind: str, *, again: bool = True
) -> list[Spot]:
    """The spots of a rhythm, given as (onset, duration): each belongs to the chord it starts in,
    an anticipation to the one to come. A note held over a change from a beat before or more is
    struck again there, unless not ``again``."""
    spots: list[Spot] = []
    for at, duration in timed:
        for onset, length, patch in _by_chord(ground, at, duration, again):
            spots.append(Spot(onset, length, patch, pool_of(patch, kind)))
    return phrased(spots)


def _by_chord(
    ground: Ground, at: Quarters, duration: Quarters, again: bool
) -> Iterable[tuple[Quarters, Quarters, Patch]]:
    while duration > 0:
        patch = ground.patch_at(at)
        over = patch.end - at if patch else duration
        after = ground.patch_at(patch.end) if patch else None
        changes = after is not None and patch is not None and after.chord != patch.chord
        if patch and changes and after and over < duration:
            if over < 1:
                yield at, duration, after
                return
            if not again:
                yield at, duration, patch
                return
            yield at, over, patch
            at, duration = at + over, duration - over
            continue
        if patch:
            yield at, duration, patch
        return


def phrased(spots: Sequence[Spot]) -> list[Spot]:
    """Mark where phrases begin and end: a rest of a beat or more lies between."""
    rests = [b.at - a.at >= 1 + a.duration for a, b in pairwise(spots)]
    marked: list[Spot] = []
    for spot, fresh, ends in zip(spots, (True, *rests), (*rests, True), strict=False):
        same = fresh == spot.fresh and ends == spot.ends
        marked.append(spot if same else replace(spot, fresh=fresh, ends=ends))
    return marked


def swell(spots: Sequence[Spot], ground: Ground, dice: Random, sweep: float = 9.0) -> list[Spot]:
    """Plan a contour: each phrase leans to an arch of its own, the highest about two thirds
    through. ``sweep`` is how far it goes in semitones, if the range allows."""
    starts = [i for i, s in enumerate(spots) if s.fresh or i == 0]
    low, high = ground.span.low.midi, ground.span.high.midi
    room = min(sweep, (high - low) / (2.5 if sweep <= 9 else 2.0))
    shaped: list[Spot] = []
    for number, start in enumerate(starts):
        end = starts[number + 1] if number + 1 < len(starts) else len(spots)
        rise = 1.0 - abs((number + 0.5) / len(starts) - 0.66)
        centre = (low + high) / 2 + room * (rise - 0.75) + dice.uniform(-2, 2)
        falls = dice.random() < 0.5
        for index in range(start, end):
            along = (index - start + 0.5) / (end - start)
            arch = 1 - abs(along - (0.3 if falls else 0.65)) * 1.6
            shaped.append(replace(spots[index], height=centre + room * 0.55 * arch))
    return shaped


def crowned(spots: Sequence[Spot], ground: Ground, dice: Random) -> list[Spot]:
    """Give the line one highest note, about two thirds through: a chord tone on a beat, about as
    high as the contour goes; every other note stays below it. Two passes: the place and the
    height are drawn first, the line exactly under them.

    Source: teaching practice: the widest range is used once.
    """
    able = _crowns(spots, ground, 2) or _crowns(spots, ground, 1)
    if not able:
        return list(spots)
    index, top = dice.choice(sorted(able))
    return [
        replace(s, top=top if i == index else top - 1, peak=i == index) for i, s in enumerate(spots)
    ]


def _crowns(spots: Sequence[Spot], ground: Ground, around: int) -> set[tuple[int, int]]:
    """Which spots may be the highest, and how high, with so many free ones ``around`` them."""
    planned = max((s.height for s in spots if s.height is not None), default=0.0)
    return {
        (index, midi)
        for index, spot in enumerate(spots)
        if _may_crown(spot, ground)
        and all(map(_is_free, spots[max(0, index - around) : index + around + 1]))
        for midi in range(int(planned) - 2, ground.span.high.midi + 1)
        if midi <= planned + 3
        and degree_of(_crowning(spot), spot.patch.chord, midi) is not None
        and midi not in ground.awkward_midi
    }


def _may_crown(spot: Spot, ground: Ground) -> bool:
    if spot.ends or spot.fresh or spot.at % 1:
        return False
    return 0.5 <= (spot.at - ground.start) / (ground.end - ground.start) <= 0.8


def _is_free(spot: Spot) -> bool:
    return spot.role is None and spot.approach is None


def _crowning(spot: Spot) -> Pool:
    """The degrees that may be the highest note: what is aimed at here, else the chord's tones."""
    return spot.target or tuple(d for d in spot.pool if d in spot.patch.tones)
