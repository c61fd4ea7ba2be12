"""What one take says about skills: counts with their certainty, and a grade for the memory."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import IntEnum
from functools import cache
from typing import Any

from changewright.chart.model import Form
from changewright.ear.hearing import Finding, Hearing, Verdict
from changewright.music.sheet import Recipe
from changewright.plan.skill import (
    Skill,
    Strand,
    passages_of,
    progression_of,
    skill_document,
    skill_from,
    table,
)
from changewright.reading.analyse import analyse

__all__ = [
    "Count",
    "Evidence",
    "Grade",
    "corrected",
    "evidence_document",
    "evidence_from",
    "evidence_of",
    "grade_of",
    "marks_for",
]

LEAST_SURE = 8
"""Fewer asks than this decide nothing. Source: domain reference 8.6, pitfall 11."""
MOST_UNSURE = 0.15
"""A larger share of uncertain notes is not judged. Source: domain reference 5.2."""
FAR = 0.75  # of a mark: below it the thing has to be built again. common practice, no source


class Grade(IntEnum):
    """How a take went, as the memory is told of it."""

    LOST = 1
    SHAKY = 2
    MET = 3
    EASY = 4


@dataclass(frozen=True, slots=True)
class Count:
    """Of ``asked`` things of a kind the listener is sure about ``sure``; ``met`` were as asked."""

    kind: str
    met: int
    sure: int
    asked: int

    @property
    def share(self) -> float:
        """The share met among those that are sure."""
        return self.met / self.sure if self.sure else 0.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a take says about one skill.

    ``part`` is True where the skill turned up inside a longer form; such a stretch tells how
    things stand but passes nothing. ``confidence`` is the listener's mean over the sure asks.
    """

    skill: Skill
    at: datetime
    take: str
    counts: tuple[Count, ...]
    grade: Grade
    confidence: float
    part: bool = False

    @property
    def day(self) -> date:
        """The day of the take."""
        return self.at.date()

    @property
    def passed(self) -> bool:
        """True where the whole of it met every mark of its family and level."""
        return self.grade >= Grade.MET and not self.part


def evidence_of(
    hearing: Hearing, recipe: Recipe, *, at: datetime, take: str
) -> tuple[Evidence, ...]:
    """Read a hearing as evidence: the whole chorus, and the cadences inside it.

    Empty where the take was not judged, or too little of it is sure.
    """
    if not hearing.judged or _is_unsure(hearing.findings):
        return ()
    reading = analyse(Form(title=hearing.title, key=hearing.key, bars=hearing.grid))
    family, tempo = recipe.family.partition(".")[0], round(60 / hearing.quarter_s)
    home = progression_of(reading)
    whole = Strand(recipe.level, family, home).at(str(hearing.key), tempo)
    timing = Count(
        "onset", hearing.timing.in_window, hearing.timing.counted, hearing.timing.counted
    )
    told = [_evidence(whole, hearing.findings, (timing,), at, take)]
    for name, key, bars in passages_of(reading):
        if (name, key) != (home, hearing.key):
            inside = [f for f in hearing.findings if f.ask.bar in bars]
            skill = Strand(recipe.level, family, name).at(str(key), tempo)
            told.append(_evidence(skill, inside, (), at, take, part=True))
    return tuple(one for one in told if one is not None)


def corrected(
    evidence: Sequence[Evidence], hearing: Mapping[str, Any], bars: Mapping[int, bool]
) -> tuple[Evidence, ...]:
    """The evidence of a take as its teacher heard it.

    ``hearing`` is the hearing's document; ``bars`` tells for each bar that was heard otherwise
    whether it was as asked. Everything asked in a bar that was counts as met; in one that wasn't,
    and where the listener missed nothing, one note is taken as missed. Stretches inside the form
    are left out: they pass nothing, and their bars are not told in evidence.
    """
    if not bars:
        return tuple(evidence)
    told = [counted for one in hearing["bars"] for counted in _counted(one, bars.get(one["bar"]))]
    found = []
    for one in evidence:
        if one.part:
            continue
        counts = tuple(_recount(count, told) for count in one.counts)
        grade = grade_of(one.skill.strand.family, one.skill.strand.level, counts)
        found.append(replace(one, counts=counts, grade=one.grade if grade is None else grade))
    return tuple(found)


def grade_of(family: str, level: int, counts: Iterable[Count]) -> Grade | None:
    """Grade counts by the marks of a family and level; None where too few are sure."""
    marks = dict(marks_for(family, level))
    ratios = [c.share / marks[c.kind] for c in counts if c.kind in marks and c.sure >= LEAST_SURE]
    if not ratios:
        return None
    if min(ratios) < FAR:
        return Grade.LOST
    if min(ratios) < 1:
        return Grade.SHAKY
    clean = all(c.met == c.sure for c in counts if c.kind in marks)
    return Grade.EASY if clean else Grade.MET


@cache
def marks_for(family: str, level: int) -> tuple[tuple[str, float], ...]:
    """The share of each kind of ask that passes.

    A family's own mark and the level's are both kept in mind: nobody is held to more notes and
    onsets than his level asks. Source: domain reference 5.3 and 8.3 (teaching practice).
    """
    rung = next(row for row in table("level_marks") if int(row["level"]) == min(max(level, 1), 8))
    marks = {kind: int(rung[kind]) / 100 for kind in ("note", "onset")}
    for row in table("family_marks"):
        if row["family"] == family:
            own = (row["first_level_share"] if level == 1 else "") or row["share"]
            kind, share = row["kind"], int(own) / 100
            marks[kind] = min(share, marks.get(kind, 1.0))
    return tuple(marks.items())


def evidence_document(evidence: Evidence) -> dict[str, Any]:
    """Evidence as plain values; :func:`evidence_from` reads it back equal."""
    return {
        **skill_document(evidence.skill),
        "at": evidence.at.isoformat(),
        "take": evidence.take,
        "counts": [[c.kind, c.met, c.sure, c.asked] for c in evidence.counts],
        "grade": int(evidence.grade),
        "confidence": round(evidence.confidence, 4),
        "part": evidence.part,
    }


def evidence_from(document: dict[str, Any]) -> Evidence:
    """Read evidence from plain values."""
    return Evidence(
        skill=skill_from(document),
        at=datetime.fromisoformat(document["at"]),
        take=document["take"],
        counts=tuple(Count(*one) for one in document["counts"]),
        grade=Grade(document["grade"]),
        confidence=document["confidence"],
        part=document["part"],
    )


def _evidence(
    skill: Skill,
    findings: Sequence[Finding],
    more: tuple[Count, ...],
    at: datetime,
    take: str,
    part: bool = False,
) -> Evidence | None:
    counts = (*_counts(findings), *more)
    grade = grade_of(skill.strand.family, skill.strand.level, counts)
    if grade is None:
        return None
    sure = [f.confidence for f in findings if f.verdict is not Verdict.UNSURE]
    mean = sum(sure) / len(sure) if sure else 0.0
    return Evidence(skill, at, take, counts, grade, round(mean, 4), part)


def _counts(findings: Sequence[Finding]) -> tuple[Count, ...]:
    kinds = sorted({f.ask.kind for f in findings})
    return tuple(_count(kind, [f for f in findings if f.ask.kind == kind]) for kind in kinds)


def _count(kind: str, findings: Sequence[Finding]) -> Count:
    met = sum(f.verdict is Verdict.MET for f in findings)
    unsure = sum(f.verdict is Verdict.UNSURE for f in findings)
    return Count(kind, met, len(findings) - unsure, len(findings))


def _counted(bar: Mapping[str, Any], right: bool | None) -> list[tuple[str, str]]:
    """Each kind asked in a bar with its word, ``met``, ``missed`` or ``unsure``."""
    words = ("met", "missed", "unsure")
    found = [(one["kind"], word) for word in words for one in bar[word]]
    if right is None:
        return found
    if right:
        return [(kind, "met") for kind, _ in found]
    if found and not bar["missed"]:
        place = next((i for i, (kind, _) in enumerate(found) if kind == "note"), 0)
        found[place] = found[place][0], "missed"
    return found


def _recount(count: Count, told: Sequence[tuple[str, str]]) -> Count:
    """A count anew, where the bars tell of its kind; that of onsets stands as it was."""
    words = [word for kind, word in told if kind == count.kind]
    if not words:
        return count
    met, unsure = words.count("met"), words.count("unsure")
    return Count(count.kind, met, len(words) - unsure, len(words))


def _is_unsure(findings: Sequence[Finding]) -> bool:
    notes = [f for f in findings if f.ask.kind == "note"] or list(findings)
    unsure = sum(f.verdict is Verdict.UNSURE for f in notes)
    return not notes or unsure > MOST_UNSURE * len(notes)
