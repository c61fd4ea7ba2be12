"""Hearings from the judge itself, on takes whose notes are known, read as evidence."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from changewright.ear.document import hearing_document
from changewright.ear.hearing import Hearing
from changewright.ear.judge import judge
from changewright.music.sheet import Sheet
from changewright.plan.evidence import (
    Count,
    Grade,
    corrected,
    evidence_document,
    evidence_from,
    evidence_of,
    grade_of,
    marks_for,
)
from tests.unit.ear.exercises import clock_of, exact_take, root_up, slots

AT = datetime(2026, 3, 5, 18, tzinfo=UTC)
SHEET = root_up("flute")


def heard(sheet: Sheet = SHEET, wrong: int = 0) -> Hearing:
    """An exact take with the first ``wrong`` notes a semitone high."""
    notes = [
        replace(note, midi=note.midi + 1) if n < wrong else note
        for n, note in enumerate(slots(sheet, 0.0))
    ]
    return judge(sheet, exact_take(notes), clock_of(sheet))


def test_a_clean_take_passes_its_skill_with_the_figures() -> None:
    told = evidence_of(heard(), SHEET.recipe, at=AT, take="t1")
    whole = told[0]
    assert whole.passed
    assert whole.grade is Grade.EASY
    assert whole.skill.strand.family == "root-up"
    assert whole.skill.strand.progression == "blues"
    assert whole.skill.key == str(SHEET.key)
    assert whole.skill.tempo_bpm == SHEET.tempo_bpm
    notes = next(c for c in whole.counts if c.kind == "note")
    assert notes.met == notes.sure == len(SHEET.line.notes)
    assert 0.5 < whole.confidence <= 1


def test_wrong_notes_fail_it() -> None:
    few = evidence_of(heard(wrong=10), SHEET.recipe, at=AT, take="t1")
    assert all(one.grade < Grade.MET for one in few)


def test_a_take_that_was_not_judged_says_nothing() -> None:
    unjudged = replace(heard(), judged=False, reason="too quiet")
    assert evidence_of(unjudged, SHEET.recipe, at=AT, take="t1") == ()


def test_too_many_uncertain_notes_say_nothing() -> None:
    """Source: domain reference 5.2: more than 15% uncertain is not judged."""
    take = exact_take(slots(SHEET, 0.0))
    unsure = replace(take, notes=tuple(replace(n, confidence=0.05) for n in take.notes))
    hearing = judge(SHEET, unsure, clock_of(SHEET))
    assert evidence_of(hearing, SHEET.recipe, at=AT, take="t1") == ()


def test_evidence_goes_through_json_unchanged() -> None:
    for one in evidence_of(heard(wrong=3), SHEET.recipe, at=AT, take="t1"):
        assert evidence_from(evidence_document(one)) == one


@pytest.mark.parametrize(
    ("level", "note", "onset"),
    [(1, 85, 75), (2, 88, 80), (3, 90, 80), (4, 92, 80), (5, 92, 85), (6, 93, 85), (8, 95, 90)],
)
def test_marks_follow_the_levels(level: int, note: int, onset: int) -> None:
    """Source: domain reference 8.3, assigned exercise; a family without marks of its own."""
    assert dict(marks_for("nothing special", level)) == {"note": note / 100, "onset": onset / 100}


def test_a_familys_own_marks_are_kept_beside_the_levels() -> None:
    """Source: domain reference 5.3, F1, F5 and F8."""
    assert dict(marks_for("root-up", 1)) == {"note": 0.85, "onset": 0.75, "lands": 1.0}
    assert dict(marks_for("guide-tones", 3))["steps"] == 0.9
    assert dict(marks_for("enclosures", 4))["approached"] == 0.8


@pytest.mark.parametrize(
    ("met", "grade"),
    [(48, Grade.EASY), (47, Grade.MET), (41, Grade.MET), (40, Grade.SHAKY), (30, Grade.LOST)],
)
def test_grades_follow_the_share(met: int, grade: Grade) -> None:
    assert grade_of("space", 1, [Count("note", met, 48, 48)]) is grade


def test_the_worst_criterion_decides() -> None:
    counts = [Count("note", 48, 48, 48), Count("onset", 20, 48, 48)]
    assert grade_of("space", 1, counts) is Grade.LOST


def test_a_handful_of_notes_decides_nothing() -> None:
    """Source: domain reference 8.6, pitfall 11: eight changes decide nothing."""
    assert grade_of("space", 1, [Count("note", 7, 7, 48)]) is None
    assert grade_of("space", 1, []) is None


def test_the_teachers_ears_stand_against_the_listeners() -> None:
    """Ten notes wrong in the first bars: as the teacher says that they were right, all is met."""
    hearing = heard(wrong=10)
    told = evidence_of(hearing, SHEET.recipe, at=AT, take="t1")
    wrong_bars = {f.ask.bar for bar in hearing.bars for f in bar.missed}
    right = corrected(told, hearing_document(hearing), dict.fromkeys(wrong_bars, True))
    assert [one.part for one in right] == [False]
    notes = next(c for c in right[0].counts if c.kind == "note")
    assert notes.met == notes.sure == len(SHEET.line.notes)
    assert right[0].grade > told[0].grade


def test_a_bar_that_the_teacher_heard_wrong_is_missed() -> None:
    hearing = heard()
    told = evidence_of(hearing, SHEET.recipe, at=AT, take="t1")
    wrong = corrected(told, hearing_document(hearing), {2: False, 3: False})
    before, after = (next(c for c in one[0].counts if c.kind == "note") for one in (told, wrong))
    assert after.met == before.met - 2
    assert wrong[0].grade is Grade.MET, "no longer clean"


def test_without_a_correction_evidence_stands() -> None:
    told = evidence_of(heard(wrong=3), SHEET.recipe, at=AT, take="t1")
    assert corrected(told, hearing_document(heard(wrong=3)), {}) == told
