"""How things stand, skill by skill, with the takes and days that say so. No points, no ranks."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from changewright.plan.curriculum import goal_bpm
from changewright.plan.evidence import Evidence, Grade, marks_for
from changewright.plan.memory import Memory, remember
from changewright.plan.skill import Skill, Strand, key_words

__all__ = ["Mark", "Passing", "Progress", "Stand", "Standing"]

KEPT = 0.70
"""Below this chance a thing once solid is called forgotten. Source: common practice, no source."""
SAME_TEMPO = 0.97  # a take this near the tempo counts as at it. common practice, no source


class Stand(StrEnum):
    """How a skill stands."""

    SOLID = "solid"
    SHAKY = "shaky"
    UNTRIED = "untried"
    FORGOTTEN = "forgotten"


@dataclass(frozen=True, slots=True)
class Mark:
    """The teacher's own word on a strand, in one key or at one tempo or in all (None). It stands
    against any take until it is withdrawn."""

    strand: Strand
    stand: Stand
    at: datetime
    key: str | None = None
    tempo_bpm: int | None = None
    words: str = ""

    def covers(self, skill: Skill) -> bool:
        """True where the mark speaks of this skill; a solid tempo covers the slower ones."""
        if self.strand != skill.strand or self.key not in (None, skill.key):
            return False
        return self.tempo_bpm is None or (
            skill.tempo_bpm <= self.tempo_bpm
            if self.stand is Stand.SOLID
            else skill.tempo_bpm >= self.tempo_bpm
        )


@dataclass(frozen=True, slots=True)
class Standing:
    """How one skill stands on a day, and why.

    ``chance`` is the chance that it goes now (0 where untried), ``due`` the day to bring it back,
    ``takes`` the ids of the takes that speak of it, ``because`` sentences for a person.
    """

    skill: Skill
    stand: Stand
    chance: float
    due: date | None
    takes: tuple[str, ...]
    because: tuple[str, ...]

    @property
    def is_forgotten(self) -> bool:
        """True for what was once learned and is called forgotten."""
        return self.stand is Stand.FORGOTTEN


@dataclass(frozen=True, slots=True)
class Passing:
    """Whether a strand is passed at a tempo: met on two days and in two keys.

    Source: domain reference 5.2.
    """

    strand: Strand
    tempo_bpm: int
    days: tuple[date, ...]
    keys: tuple[str, ...]
    marked: bool = False

    @property
    def passed(self) -> bool:
        """Two takes on different days, in at least two keys; or the teacher's word."""
        return self.marked or (len(self.days) >= 2 and len(self.keys) >= 2)

    @property
    def because(self) -> str:
        """Why, in a sentence."""
        if self.marked:
            return "the teacher's mark says solid"
        if not self.days:
            return f"not yet met at {self.tempo_bpm}"
        days = f"on {_and([_day(d) for d in self.days])}"
        keys = f"in {_and([key_words(k) for k in self.keys])}"
        missing = [
            *(["a second day"] if len(self.days) < 2 else []),
            *(["a second key"] if len(self.keys) < 2 else []),
        ]
        told = f"met at {self.tempo_bpm} {days}, {keys}"
        return f"{told}; still missing: {_and(missing)}" if missing else told


class Progress:
    """All evidence and marks of one student, in order, with the memories they make."""

    def __init__(self, evidence: Iterable[Evidence], marks: Iterable[Mark] = ()) -> None:
        self.evidence = tuple(sorted(evidence, key=lambda e: (e.at, e.take, e.skill)))
        self.marks = tuple(sorted(marks, key=lambda m: m.at))
        self._cells: dict[tuple[Strand, str], list[Evidence]] = {}
        for one in self.evidence:
            self._cells.setdefault((one.skill.strand, one.skill.key), []).append(one)
        self._memories: dict[tuple[Strand, str], Memory | None] = {}

    @property
    def cells(self) -> tuple[tuple[Strand, str], ...]:
        """The strands and keys that takes or marks speak of."""
        marked = ((m.strand, m.key) for m in self.marks if m.key is not None)
        return tuple(dict.fromkeys((*self._cells, *marked)))

    def takes_of(self, strand: Strand, key: str) -> tuple[Evidence, ...]:
        """The takes that speak of a strand in a key, the first first."""
        return tuple(self._cells.get((strand, key), ()))

    def keys_of(self, strand: Strand) -> tuple[str, ...]:
        """The keys in which a strand was played as an exercise, in the order in which they came."""
        keys = (e.skill.key for e in self.evidence if e.skill.strand == strand and not e.part)
        return tuple(dict.fromkeys(keys))

    def memory(self, strand: Strand, key: str) -> Memory | None:
        """The memory of a strand in a key, None where it was never tried."""
        cell = strand, key
        if cell not in self._memories:
            reviews = [(e.at, e.day, e.grade) for e in self._cells.get(cell, ())]
            reviews += [
                (m.at, m.at.date(), Grade.MET if m.stand is Stand.SOLID else Grade.SHAKY)
                for m in self.marks
                if m.strand == strand and m.key == key and m.stand is not Stand.UNTRIED
            ]
            reviews.sort(key=lambda review: review[0])
            self._memories[cell] = remember([(day, grade) for _, day, grade in reviews])
        return self._memories[cell]

    def reached(self, strand: Strand, key: str) -> int:
        """The fastest tempo at which a strand was met in a key, 0 where it never was."""
        met = [e.skill.tempo_bpm for e in self.takes_of(strand, key) if e.passed]
        return max((*met, *self._marked_tempos(strand, key)), default=0)

    def passing(self, strand: Strand, tempo_bpm: int) -> Passing:
        """Whether a strand is passed at a tempo, and on what ground."""
        mine = [e for e in self.evidence if e.skill.strand == strand and e.passed]
        met = [e for e in mine if e.skill.tempo_bpm >= SAME_TEMPO * tempo_bpm]
        word = [
            m
            for m in self.marks
            if m.strand == strand and m.key is None and (m.tempo_bpm or tempo_bpm) >= tempo_bpm
        ]
        return Passing(
            strand,
            tempo_bpm,
            tuple(sorted({e.day for e in met})),
            tuple(dict.fromkeys(e.skill.key for e in met)),
            bool(word) and word[-1].stand is Stand.SOLID,
        )

    def standing(self, skill: Skill, on: date) -> Standing:
        """How a skill stands on a day."""
        takes = self.takes_of(skill.strand, skill.key)
        memory = self.memory(skill.strand, skill.key)
        chance = memory.chance(on) if memory else 0.0
        stand, why = _stand(skill, takes, memory, chance, on)
        mark = next((m for m in reversed(self.marks) if m.covers(skill)), None)
        if mark is not None:
            other = "" if mark.stand is stand or not takes else f"; the takes alone say {stand}"
            said = f" ({mark.words})" if mark.words else ""
            why = (f"the teacher's mark of {_day(mark.at.date())}{said}{other}", *why)
            stand = mark.stand
        return Standing(
            skill,
            stand,
            round(chance, 3),
            memory.due if memory else None,
            tuple(e.take for e in takes),
            why,
        )

    def path(self, on: date) -> tuple[Standing, ...]:
        """Every strand and key that was ever touched, each at the tempo it is to be passed at."""
        return tuple(
            self.standing(strand.at(key, goal_bpm(strand)), on)
            for strand, key in sorted(self.cells)
        )

    def _marked_tempos(self, strand: Strand, key: str) -> list[int]:
        return [
            m.tempo_bpm or goal_bpm(strand)
            for m in self.marks
            if m.strand == strand and m.key in (None, key) and m.stand is Stand.SOLID
        ]


def _stand(
    skill: Skill, takes: tuple[Evidence, ...], memory: Memory | None, chance: float, on: date
) -> tuple[Stand, tuple[str, ...]]:
    if not takes or memory is None:
        return Stand.UNTRIED, ("no take of it yet",)
    fast = [e for e in takes if e.skill.tempo_bpm >= SAME_TEMPO * skill.tempo_bpm]
    days = sorted({e.day for e in fast if e.passed})
    told = _takes_told(takes)
    if len(days) < 2:
        missing = "met on one day so far" if days else f"not yet met at {skill.tempo_bpm}"
        return Stand.SHAKY, (missing, told)
    solid = f"met at {skill.tempo_bpm} on {_and([_day(d) for d in days])}"
    if chance < KEPT:
        gone = f"last played {(on - memory.last).days} days ago: about {chance:.0%} is left of it"
        return Stand.FORGOTTEN, (solid, gone, told)
    last = fast[-1]
    if last.grade < Grade.MET:
        return Stand.SHAKY, (f"{solid}, but the take of {_day(last.day)} missed its mark", told)
    return Stand.SOLID, (solid, f"comes back about {_day(memory.due)}", told)


def _takes_told(takes: tuple[Evidence, ...]) -> str:
    """The latest takes in figures: ``5 March at 84: 34 of 36 notes, 30 of 36 in time``."""
    shown = takes[-3:]
    before = f"{len(takes) - len(shown)} earlier; " if len(takes) > len(shown) else ""
    return before + "; ".join(_take_told(e) for e in shown)


def _take_told(evidence: Evidence) -> str:
    strand = evidence.skill.strand
    asked = {"note", "onset", *dict(marks_for(strand.family, strand.level))}
    found = {c.kind: c for c in evidence.counts if c.sure and c.kind in asked}
    counts = [f"{found[k].met} of {found[k].sure} {w}" for k, w in _KINDS.items() if k in found]
    where = ", inside a tune" if evidence.part else ""
    sure = f" (heard with {evidence.confidence:.0%} certainty)" if evidence.confidence else ""
    head = f"{_day(evidence.day)} at {evidence.skill.tempo_bpm}{where}"
    return f"{head}: {', '.join(counts) or evidence.grade.name.lower()}{sure}"


_KINDS = {
    "note": "notes",
    "onset": "in time",
    "lands": "landings",
    "steps": "by step",
    "holds": "held",
    "rests": "rests kept",
    "stays": "stretches in the pool",
    "keeps": "rhythms kept",
    "approached": "approaches",
    "quotes": "phrases in place",
}


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"


def _and(words: list[str]) -> str:
    if len(words) > 4:
        words = [*words[:1], f"{len(words) - 2} more", words[-1]]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
