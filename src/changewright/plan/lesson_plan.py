"""A lesson's course in minutes: the first one, and the next from what was heard."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from changewright.errors import PlanError
from changewright.plan.curriculum import goal_bpm
from changewright.plan.ladder import Climb, next_rung
from changewright.plan.planner import due_on
from changewright.plan.progress import Progress, Stand
from changewright.plan.skill import Skill, Strand, key_words, skill_document

__all__ = ["Heard", "LessonPlan", "Segment", "first_lesson", "lesson_document", "next_lesson"]

FORMAT = "changewright-lesson-plan/1"
FIRST_MINUTES = 15
_LEAST, _MOST = 10, 180


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of a lesson: minutes [start, end), what happens, and why. ``family`` (with its
    variant) and ``skill`` name an exercise that can be composed for it."""

    start: int
    end: int
    title: str
    what: str
    because: str
    skill: Skill | None = None
    family: str = ""


@dataclass(frozen=True, slots=True)
class LessonPlan:
    """A lesson as planned."""

    title: str
    on: date
    segments: tuple[Segment, ...]

    @property
    def minutes(self) -> int:
        """The whole length."""
        return self.segments[-1].end


@dataclass(frozen=True, slots=True)
class Heard:
    """What the ear put first in a take: the one thing to mend, the one that worked."""

    title: str
    on: date
    strength: str = ""
    correction: str = ""


_FIRST = (
    (2, "Hello", "Tune. Ask what hurts, what is missed most, which notes feel safe.", "", ""),
    (
        2,
        "Time",
        "Both clap two and four with the ride; the student taps the form and says where it turns.",
        "time and form are corrected before notes",
        "",
    ),
    (
        3,
        "Copy",
        "You play one bar on three notes, the student answers by ear. No page.",
        "ear first, page last",
        "call-and-response.one-bar",
    ),
    (
        3,
        "Roots, then thirds",
        "Walk the chords once: the root of each, then root and third, from the page.",
        "two notes a chord are enough to hear the changes go by",
        "free-rhythm.two",
    ),
    (
        5,
        "Improvise",
        "Three choruses of blues: two bars play, two bars rest. First on one note, then on those "
        "two, then anything. Record the last one; talk after it, not during.",
        "the lesson ends with the student's own music, and a first take to compare with later",
        "space.2-2",
    ),
)


def first_lesson(
    on: date, key: str = "F", tempo_bpm: int | None = None, minutes: int = FIRST_MINUTES
) -> LessonPlan:
    """A first lesson that ends with the student improvising on a blues; 15 minutes by default,
    stretched alike where there are more."""
    _check(minutes)
    tempo = tempo_bpm or goal_bpm(Strand(1, "root-up", "blues"))
    ends = _stretched([length for length, *_ in _FIRST], minutes)
    segments = []
    for start, end, (_, title, what, why, family) in zip([0, *ends], ends, _FIRST, strict=False):
        strand = Strand(1, family.partition(".")[0], "blues") if family else None
        skill = strand.at(key, tempo) if strand else None
        segments.append(Segment(start, end, title, what, why, skill, family))
    return LessonPlan("First lesson", on, tuple(segments))


def next_lesson(
    on: date,
    progress: Progress,
    climb: Climb,
    heard: Sequence[Heard] = (),
    minutes: int = 60,
    first_note: str = "",
) -> LessonPlan:
    """The next lesson from what was heard: hear the take, one theme, use it, record, agree.

    One correction a take, two a lesson; the theme is the first correction's skill, or the next
    rung. Source: domain reference 1.4 and 1.7 (teaching practice).
    """
    _check(minutes)
    rung = next_rung(progress, climb)
    shaky = [s for s in progress.path(on) if s.stand is Stand.SHAKY]
    theme = rung.skill if rung else shaky[0].skill if shaky else None
    parts = (
        (5, "Arrive", _arrive(first_note), "pain and tiredness first", None),
        (10, "Hear the home take", _hear(heard), "the student's own ears come first", None),
        (
            20,
            "Theme",
            *_theme(theme, rung.because if rung else "nothing new: deepen this", climb),
            theme,
        ),
        (15, "Use it", *_use(theme, progress, on, climb), None),
        (7, "Record", "One take of the theme and one free chorus. No retakes.", "the file", None),
        (3, "Agree on the week", _agree(theme, climb), "written down before leaving", None),
    )
    ends = _stretched([part[0] for part in parts], minutes)
    segments = tuple(
        Segment(start, end, title, what, why, skill, skill.strand.family if skill else "")
        for start, end, (_, title, what, why, skill) in zip([0, *ends], ends, parts, strict=False)
    )
    return LessonPlan("Next lesson", on, segments)


def lesson_document(plan: LessonPlan) -> dict[str, Any]:
    """A lesson plan as plain values for JSON."""
    return {
        "format": FORMAT,
        "title": plan.title,
        "on": plan.on.isoformat(),
        "minutes": plan.minutes,
        "segments": [
            {
                "from": s.start,
                "to": s.end,
                "title": s.title,
                "what": s.what,
                "because": s.because,
                "family": s.family,
                "skill": skill_document(s.skill) if s.skill else None,
            }
            for s in plan.segments
        ],
    }


def _check(minutes: int) -> None:
    if not _LEAST <= minutes <= _MOST:
        raise PlanError(
            f"a lesson of {minutes} minutes can't be planned",
            remedy=f"Choose {_LEAST} to {_MOST} minutes.",
        )


def _stretched(lengths: Sequence[int], minutes: int) -> list[int]:
    """The ends of parts in whole minutes, stretched to fill the lesson; none is left out."""
    ends: list[int] = []
    whole, so_far = sum(lengths), 0
    for place, length in enumerate(lengths):
        so_far += length
        least = ends[-1] + 1 if ends else 1
        most = minutes - (len(lengths) - 1 - place)
        ends.append(min(most, max(least, round(so_far * minutes / whole))))
    return ends


def _arrive(note: str) -> str:
    last = f" Last time: {note}" if note else ""
    return f"Talk, tune, long tones with the ride. Anything sore?{last}"


def _hear(heard: Sequence[Heard]) -> str:
    if not heard:
        return "No take came: play one chorus together instead, and ask what went well."
    told = []
    for take in heard[:2]:
        worked = f" Worked: {take.strength}" if take.strength else ""
        mend = f" To mend: {take.correction}" if take.correction else ""
        told.append(f"{take.title}, {take.on.day} {take.on:%B}.{worked}{mend}")
    return f"Ask the student first. {' '.join(told)}"


def _theme(theme: Skill | None, because: str, climb: Climb) -> tuple[str, str]:
    if theme is None:
        return ("A tune of the student's choice, its melody first.", "the level is done")
    words, key = theme.strand.words, key_words(theme.key, climb.player)
    what = (
        f"{words[:1].upper()}{words[1:]} in {key}: you play it, the student "
        f"copies by ear, then from the page, then with the band at {theme.tempo_bpm}."
    )
    return what, because


def _use(theme: Skill | None, progress: Progress, on: date, climb: Climb) -> tuple[str, str]:
    due = due_on(progress, on, climb.level)
    if due:
        old = due[0].skill
        what = f"Two choruses: the theme in bars agreed, the rest free. Then, once: {old.words}."
        return what, f"an old thing comes back: {due[0].because[0]}"
    where = "in bars agreed beforehand" if theme else "wherever it comes"
    return f"Two choruses with the theme {where}, the rest free.", "it must turn up unasked"


def _agree(theme: Skill | None, climb: Climb) -> str:
    if theme is None:
        return "Which days, which tune, what to send."
    return f"Which days; {key_words(theme.key, climb.player)} at {theme.tempo_bpm}; what to send."
