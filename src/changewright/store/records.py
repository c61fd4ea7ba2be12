"""What the store keeps, one frozen value a kind.

Ids are short texts that the store gives; ``""`` is a record not yet kept. Moments are aware and in
UTC. Documents are plain JSON, as their own rooms write them.
"""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

__all__ = [
    "ADULT",
    "AGE_BANDS",
    "KINDS",
    "Access",
    "Consent",
    "Correction",
    "Exercise",
    "Heard",
    "KeptPlan",
    "LessonNote",
    "Phrase",
    "Record",
    "Student",
    "Take",
    "TeacherMark",
    "Tune",
]

Document = dict[str, Any]

ADULT = "adult"
AGE_BANDS = ("under 13", "13 to 15", "16 to 17", ADULT)
"""Bands instead of a birth date. Source: the ages at which consent changes hands in GDPR
Article 8 (13 and 16) and COPPA (13); 18 is common practice, no source."""


@dataclass(frozen=True, slots=True)
class Student:
    """A player of the roster, by a nickname.

    ``range_low`` and ``range_high`` are concert pitches such as ``D3`` or empty. ``reading`` is
    fluency from 1 (note names) to 4 (fluent). ``days`` are days of practice, Monday 0;
    ``lesson_day`` likewise. ``ended`` is the end of tuition.
    """

    nickname: str
    instrument: str
    level: int = 1
    age_band: str = ADULT
    goals: str = ""
    constraints: str = ""
    minutes: int = 20
    days: tuple[int, ...] = (0, 1, 2, 4, 5)
    lesson_day: int = 3
    home_key: str = ""
    range_low: str = ""
    range_high: str = ""
    reading: int = 2
    tune: str | None = None
    concert: date | None = None
    ended: date | None = None
    id: str = ""

    @property
    def is_minor(self) -> bool:
        """True where a guardian must have agreed before anything is recorded."""
        return self.age_band != ADULT


@dataclass(frozen=True, slots=True)
class Consent:
    """Who agreed to what, and when: the guardian's word for a minor. ``what`` is ``recording``
    or another purpose by name."""

    student: str
    what: str
    given_by: str
    given: date
    withdrawn: date | None = None
    id: str = ""


@dataclass(frozen=True, slots=True)
class Tune:
    """A tune's changes as canonical chart text; ``rights`` as the chart says."""

    title: str
    key: str
    chart: str
    rights: str = "unknown"
    id: str = ""


@dataclass(frozen=True, slots=True)
class Phrase:
    """A phrase worth keeping, its notes as a document; of one student, or of the house (None)."""

    title: str
    notes: Document = field(hash=False)
    rights: str = "own work"
    student: str | None = None
    id: str = ""


@dataclass(frozen=True, slots=True)
class Exercise:
    """An exercise as given: recipe and sheet, so that it can be made again and heard against."""

    student: str
    label: str
    recipe: Document = field(hash=False)
    sheet: Document = field(hash=False)
    clock: Document = field(hash=False)
    given: date
    tune: str | None = None
    id: str = ""


@dataclass(frozen=True, slots=True)
class Take:
    """A recording by the digest of its bytes; ``blob`` is None once it has expired or was never
    kept. ``my_ears`` is the student's own comment, before anyone else's. ``lesson`` names the
    lesson and the exercise of the studio that it was recorded for, such as ``3fa9c2/2``; it is
    empty for a take that was brought in by hand."""

    student: str
    received: datetime
    media: str
    exercise: str | None = None
    blob: str | None = None
    expires: date | None = None
    my_ears: str = ""
    lesson: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True)
class Heard:
    """What a take was heard to be: the hearing's document, and what it says of skills."""

    take: str
    at: datetime
    hearing: Document = field(hash=False)
    evidence: tuple[Document, ...] = field(default=(), hash=False)
    id: str = ""


@dataclass(frozen=True, slots=True)
class Correction:
    """What the teacher heard in a take: it stands against what the machine heard.

    ``bars`` gives the number of each bar that was heard otherwise its word, ``met`` or
    ``missed``; ``words`` are the teacher's own.
    """

    take: str
    at: datetime
    bars: Document = field(default_factory=dict, hash=False)
    words: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True)
class Access:
    """Who came to a recording, and when: ``who`` is the teacher or the player, ``what`` such as
    ``listened``."""

    take: str
    at: datetime
    who: str
    what: str
    id: str = ""


@dataclass(frozen=True, slots=True)
class LessonNote:
    """A line of the teacher's, or the student's check-in (``kind`` is ``lesson``, ``sore``,
    ``missed`` or another word)."""

    student: str
    on: date
    text: str
    kind: str = "lesson"
    id: str = ""


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A plan as given: of a week, a lesson or a class."""

    student: str | None
    kind: str
    starts: date
    made: datetime
    plan: Document = field(hash=False)
    id: str = ""


@dataclass(frozen=True, slots=True)
class TeacherMark:
    """The teacher's own word on a skill; it stands against any take until it is withdrawn.

    ``key`` and ``tempo_bpm`` may be left open: the mark then covers them all.
    """

    student: str
    family: str
    progression: str
    level: int
    standing: str
    at: datetime
    key: str | None = None
    tempo_bpm: int | None = None
    words: str = ""
    id: str = ""


Record = (
    Student
    | Consent
    | Tune
    | Phrase
    | Exercise
    | Take
    | Heard
    | Correction
    | Access
    | LessonNote
    | KeptPlan
    | TeacherMark
)

KINDS: tuple[type[Record], ...] = (
    Tune,
    Student,
    Consent,
    Phrase,
    Exercise,
    Take,
    Heard,
    Correction,
    Access,
    LessonNote,
    KeptPlan,
    TeacherMark,
)
"""All kinds; one that names another comes after it."""
