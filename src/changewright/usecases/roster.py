"""The roster: who plays what, what was given, what was heard, and how it stands."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.ear.document import hearing_document
from changewright.ear.hearing import Hearing
from changewright.errors import LessonError, RosterError
from changewright.lesson.level import level
from changewright.music.document import Document
from changewright.plan.evidence import corrected, evidence_document, evidence_from, evidence_of
from changewright.plan.progress import Mark, Progress, Stand
from changewright.plan.skill import Strand, progression
from changewright.store.leaving import expire_recordings
from changewright.store.records import (
    AGE_BANDS,
    Correction,
    Exercise,
    Heard,
    Student,
    Take,
    TeacherMark,
    Tune,
)
from changewright.store.store import Store, open_store
from changewright.theory.instrument import instrument
from changewright.usecases.charts import open_chart, parse_key
from changewright.usecases.hear import hear_take
from changewright.usecases.lesson_folder import load_assignment, load_manifest

__all__ = [
    "KEPT_FOR",
    "HeardTake",
    "add_player",
    "check_player",
    "give_lesson",
    "hearing_and_evidence",
    "hearing_with_evidence",
    "keep_hearing",
    "keep_recording",
    "mark_skill",
    "progress_of",
    "roster",
    "take_in",
    "tune_for",
]

KEPT_FOR = timedelta(days=365)
"""How long a recording is kept unless the teacher says otherwise. Source: common practice, no
source."""

_MOST_BYTES = 500_000_000
_NICKNAME = 60


@dataclass(frozen=True, slots=True)
class HeardTake:
    """A take as kept, with its hearing and how many skills it speaks of."""

    take: Take
    hearing: Hearing
    evidence: int


def roster(
    home: Path,
    now: Callable[[], datetime],
    *,
    database: str | None = None,
    session: str = "terminal",
) -> Store:
    """Open the roster of a home folder; what can no longer be taken back is settled, and
    recordings whose day has come go."""
    store = open_store(home, now=now, database=database, session=session)
    store.settle()
    expire_recordings(store, now().date())
    return store


def check_player(student: Student) -> Student:
    """A student whose every field is known to the house; raises :class:`RosterError` or
    :class:`UnknownName`."""
    name = " ".join(student.nickname.split())
    if not name or len(name) > _NICKNAME:
        raise RosterError(
            f"a nickname has 1 to {_NICKNAME} letters, not {len(name)}",
            remedy="Write a nickname, such as the instrument and the day.",
        )
    if student.age_band not in AGE_BANDS:
        raise RosterError(
            f"unknown age band {student.age_band!r}", remedy=f"Known: {', '.join(AGE_BANDS)}."
        )
    if not 5 <= student.minutes <= 240:
        raise RosterError(f"{student.minutes} minutes a day", remedy="Choose 5 to 240.")
    if not 1 <= student.reading <= 4:
        raise RosterError(f"reading {student.reading}", remedy="Choose 1 (names) to 4 (fluent).")
    if not student.days or not set(student.days) | {student.lesson_day} <= set(range(7)):
        raise RosterError("unknown days of practice", remedy="Name days of the week.")
    home = str(parse_key(student.home_key)) if student.home_key else ""
    return replace(
        student,
        nickname=name,
        instrument=instrument(student.instrument).id,
        level=level(student.level).number,
        home_key=home,
        days=tuple(sorted(set(student.days))),
    )


def add_player(store: Store, student: Student) -> Student:
    """Put a new player on the roster."""
    return store.add(check_player(student))


def tune_for(
    store: Store, student: Student, source: str, key: str | None, concert: date | None
) -> Student:
    """Give a player a tune, from a chart file or the shelf, and the day of its concert."""
    chart = open_chart(source, key)
    text = write_chart(chart)
    kept = store.all(Tune, chart=text)
    tune = (
        kept[0]
        if kept
        else store.add(Tune(chart.title, str(chart.key or ""), text, rights=unroll(chart).rights))
    )
    return store.edit(student, tune=tune.id, concert=concert)


def give_lesson(store: Store, student: Student, folder: Path, on: date) -> tuple[Exercise, ...]:
    """Note the exercises of a lesson folder as given to a player."""
    manifest = load_manifest(folder)
    try:
        given = [_given(student, one, on) for one in manifest["exercises"]]
    except (KeyError, TypeError, AttributeError) as fault:
        raise LessonError(
            f"the lesson in {folder.name} is broken: {type(fault).__name__}: {fault}",
            remedy="Make the lesson again with 'changewright lesson'.",
        ) from fault
    known = {e.label for e in store.all(Exercise, student=student.id)}
    fresh = [one for one in given if one.label not in known]
    store.add_all(fresh)
    labels = {one.label for one in given}
    return tuple(e for e in store.all(Exercise, student=student.id) if e.label in labels)


def take_in(
    store: Store,
    student: Student,
    recording: Path,
    folder: Path,
    number: int,
    *,
    at: datetime,
    my_ears: str = "",
    keep_for: timedelta = KEPT_FOR,
) -> HeardTake:
    """Keep a recording, hear it against an exercise of a lesson, and keep what was heard.

    The recording is safe before it is heard, so that a take is never lost to a fault of ours.
    Raises :class:`RosterError` for a minor without a guardian's consent, before anything is read.
    """
    store.check_consent(student)
    take = Take(
        student.id,
        at,
        recording.suffix.lower().removeprefix(".") or "unknown",
        expires=at.date() + keep_for,
        my_ears=my_ears,
    )
    take = keep_recording(store, student, take, lambda: _read(recording), folder, number)
    hearing = hear_take(recording, folder, number)
    evidence = _evidence(hearing, folder, number, take)
    keep_hearing(store, take, hearing_document(hearing), evidence)
    return HeardTake(take, hearing, len(evidence))


def keep_recording(
    store: Store,
    student: Student,
    take: Take,
    read: Callable[[], bytes],
    folder: Path,
    number: int,
) -> Take:
    """Keep a recording of an exercise of a lesson, before anybody listens to it.

    Raises :class:`RosterError` for a minor without a guardian's consent, before anything is read.
    """
    store.check_consent(student)
    given = give_lesson(store, student, folder, take.received.date())
    label = _label(folder, number)
    exercise = next(one for one in given if one.label == label)
    return store.keep_take(replace(take, exercise=exercise.id), read())


def hearing_and_evidence(
    recording: Path, folder: Path, number: int, take: Take
) -> tuple[Document, tuple[Document, ...]]:
    """Listen to a recording that is kept: the hearing's document, and what it says of skills.
    Needs no store, so that it can be done in a process apart."""
    return hearing_with_evidence(hear_take(recording, folder, number), folder, number, take)


def hearing_with_evidence(
    hearing: Hearing, folder: Path, number: int, take: Take
) -> tuple[Document, tuple[Document, ...]]:
    """A hearing's document, and what it says of skills."""
    return hearing_document(hearing), _evidence(hearing, folder, number, take)


def keep_hearing(
    store: Store, take: Take, hearing: Document, evidence: tuple[Document, ...] = ()
) -> Heard:
    """Keep what was heard in a take; what was heard before stays as it is."""
    before = store.all(Heard, take=take.id)
    return before[0] if before else store.add(Heard(take.id, take.received, hearing, evidence))


def mark_skill(
    store: Store,
    student: Student,
    strand: Strand,
    stand: Stand,
    *,
    at: datetime,
    key: str | None = None,
    tempo_bpm: int | None = None,
    words: str = "",
) -> TeacherMark:
    """Note the teacher's own word on a skill; it stands until it is withdrawn."""
    progression(strand.progression)
    key = str(parse_key(key)) if key else None
    return store.add(
        TeacherMark(
            student.id,
            strand.family,
            strand.progression,
            strand.level,
            stand.value,
            at,
            key=key,
            tempo_bpm=tempo_bpm,
            words=words,
        )
    )


def progress_of(store: Store, student: Student) -> Progress:
    """All that was heard of a player, as the teacher corrected and marked it, as progress."""
    takes = {take.id for take in store.all(Take, student=student.id)}
    heard = [h for h in store.all(Heard) if h.take in takes]
    said = {c.take: {int(n): w == "met" for n, w in c.bars.items()} for c in store.all(Correction)}
    evidence = [
        one
        for h in heard
        for one in corrected(
            [evidence_from(told) for told in h.evidence], h.hearing, said.get(h.take, {})
        )
    ]
    marks = [
        Mark(
            Strand(m.level, m.family, m.progression),
            Stand(m.standing),
            m.at,
            m.key,
            m.tempo_bpm,
            m.words,
        )
        for m in store.all(TeacherMark, student=student.id)
    ]
    return Progress(evidence, marks)


def _evidence(hearing: Hearing, folder: Path, number: int, take: Take) -> tuple[Document, ...]:
    recipe = load_assignment(folder, number).sheet.recipe
    found = evidence_of(hearing, recipe, at=take.received, take=take.id)
    return tuple(evidence_document(one) for one in found)


def _given(student: Student, document: dict[str, Any], on: date) -> Exercise:
    sheet: Document = document["sheet"]
    return Exercise(student.id, document["label"], sheet["recipe"], sheet, document["clock"], on)


def _label(folder: Path, number: int) -> str:
    exercises = load_manifest(folder)["exercises"]
    if not 1 <= number <= len(exercises):
        raise LessonError(
            f"there is no exercise {number}", remedy=f"This lesson has 1 to {len(exercises)}."
        )
    label: str = exercises[number - 1]["label"]
    return label


def _read(recording: Path) -> bytes:
    if not recording.is_file():
        raise RosterError(f"{recording} is no recording", remedy="Name a sound or MIDI file.")
    if recording.stat().st_size > _MOST_BYTES:
        raise RosterError(f"{recording.name} is too long", remedy="Cut it to one chorus or a few.")
    return recording.read_bytes()
