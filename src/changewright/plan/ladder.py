"""The next rung: one thing that is new, and why it is this one."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from changewright.plan.curriculum import goal_bpm, keys_for, rungs, strands
from changewright.plan.progress import Progress, Stand
from changewright.plan.skill import Skill, Strand, key_words
from changewright.theory.instrument import Instrument

__all__ = ["Climb", "Novelty", "Rung", "next_rung"]


class Novelty(StrEnum):
    """What is new about a rung; never two of these at once. Source: domain reference 1.8."""

    FAMILY = "family"
    KEY = "key"
    TEMPO = "tempo"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Rung:
    """The next thing to work at; ``novelty`` says what is new about it."""

    skill: Skill
    novelty: Novelty
    because: str


@dataclass(frozen=True, slots=True)
class Climb:
    """How a student climbs: his level, the order of keys, the keys his instrument likes, and
    what the teacher skips (strands that are left out whatever their standing). ``goals`` are
    strands to climb instead of the level's, ``keys`` how many keys each is to be taken through;
    ``player`` is the instrument, for the keys that are read."""

    level: int
    order: tuple[str, ...]
    liked: tuple[str, ...] = ()
    skip: frozenset[Strand] = frozenset()
    goals: tuple[Strand, ...] = ()
    keys: int = 12
    player: Instrument | None = None

    @property
    def strands(self) -> tuple[Strand, ...]:
        """The strands to climb: the goals where any are named, else the level's."""
        return tuple(s for s in self.goals or strands(self.level) if s not in self.skip)


def next_rung(progress: Progress, climb: Climb) -> Rung | None:
    """The next rung for a student, or None where the whole level is done in twelve keys.

    First each strand to two keys at its tempo, one after another; then the keys beyond.
    """
    return next(_rungs(progress, climb), None)


def _rungs(progress: Progress, climb: Climb) -> Iterator[Rung]:
    for strand in climb.strands:
        if not progress.passing(strand, goal_bpm(strand)).passed:
            yield _within(progress, strand, climb)
    for strand, key in _wider(progress, climb):
        why = f"{strand.words} is passed; a new key a week takes it through the twelve"
        yield Rung(_start(progress, strand, key), Novelty.KEY, why)


def _within(progress: Progress, strand: Strand, climb: Climb) -> Rung:
    """The rung inside a strand that is not yet passed."""
    goal, keys = goal_bpm(strand), keys_for(strand, climb.order, climb.liked)
    touched = [k for k in keys if k in progress.keys_of(strand) or _is_marked(progress, strand, k)]
    if not touched:
        first = strand == climb.strands[0]
        why = (
            "the first rung of the level" if first else "the next rung: what comes before is passed"
        )
        return Rung(strand.at(keys[0], rungs(goal)[0]), Novelty.FAMILY, why)
    for key in touched:
        reached = progress.reached(strand, key)
        if reached < goal:
            return _faster(progress, strand, key, reached)
    if len(touched) == 1:
        key = keys[(keys.index(touched[0]) + 1) % len(keys)]
        met = key_words(touched[0], climb.player)
        why = f"met at {goal} in {met}; a second key shows that it is yours"
        return Rung(_start(progress, strand, key), Novelty.KEY, why)
    why = progress.passing(strand, goal).because
    return Rung(strand.at(touched[-1], goal), Novelty.NONE, why)


def _faster(progress: Progress, strand: Strand, key: str, reached: int) -> Rung:
    """The rung above the fastest tempo met; the same rung again where the last take missed it."""
    ladder = rungs(goal_bpm(strand))
    above = next(rung for rung in ladder if rung > reached)
    tried = [e.skill.tempo_bpm for e in progress.takes_of(strand, key)]
    if tried and max(tried) >= above:
        return Rung(strand.at(key, above), Novelty.NONE, f"not yet met at {above}")
    if not reached:
        return Rung(strand.at(key, above), Novelty.NONE, "begun, and not yet met")
    return Rung(strand.at(key, above), Novelty.TEMPO, f"met at {reached}: one rung faster")


def _wider(progress: Progress, climb: Climb) -> Iterator[tuple[Strand, str]]:
    """The next key of each passed strand, the strand with the fewest keys first."""
    open_ones = []
    for place, strand in enumerate(climb.strands):
        keys = keys_for(strand, climb.order, climb.liked)[: climb.keys]
        met = [k for k in keys if progress.reached(strand, k) >= goal_bpm(strand)]
        rest = [k for k in keys if k not in met]
        if rest:
            open_ones.append((len(met), place, strand, rest[0]))
    yield from ((strand, key) for _, _, strand, key in sorted(open_ones, key=lambda o: o[:2]))


def _start(progress: Progress, strand: Strand, key: str) -> Skill:
    """A new key begins a step below the goal, for the fingers; one begun goes on."""
    ladder = rungs(goal_bpm(strand))
    reached = progress.reached(strand, key)
    above = next((rung for rung in ladder if rung > reached), ladder[-1])
    return strand.at(key, max(above, ladder[-3]) if len(ladder) > 2 else above)


def _is_marked(progress: Progress, strand: Strand, key: str) -> bool:
    return any(
        m.strand == strand and m.key == key and m.stand is not Stand.UNTRIED for m in progress.marks
    )
