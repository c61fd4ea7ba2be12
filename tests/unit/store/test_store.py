from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from changewright.errors import RosterError, StoreError
from changewright.store.records import (
    KINDS,
    Access,
    Consent,
    Correction,
    Exercise,
    Heard,
    LessonNote,
    Record,
    Student,
    Take,
    Tune,
)
from changewright.store.store import Store, open_store
from tests.stores import NOW, Calendar, everything

CLARINET = Student("Clarinet, Thursday", "clarinet", level=2, goals="a chorus at the jam")
BLUES = Tune("Quayside Blues", "F", "title: Quayside Blues\n", rights="own work")
SOUND = b"RIFF" + bytes(range(256)) * 50


def whole(store: Store) -> dict[str, tuple[Record, ...]]:
    return {kind.__name__: store.all(kind) for kind in KINDS}


def furnish(store: Store) -> Student:
    """A student with one of everything."""
    tune = store.add(BLUES)
    student = store.add(replace(CLARINET, tune=tune.id))
    kept = store.add_all(everything(student, tune))
    exercise = next(r for r in kept if isinstance(r, Exercise))
    take = store.keep_take(Take(student.id, NOW, "audio/wav", exercise=exercise.id), SOUND)
    store.add(Heard(take.id, NOW, {"judged": True, "share": 0.9}, ({"met": 9, "sure": 10},)))
    store.add(Correction(take.id, NOW, {"5": "met"}, "the low note was there"))
    store.witness(Access(take.id, NOW, "teacher", "listened"))
    return student


def test_what_is_kept_is_given_back(store: Store) -> None:
    student = furnish(store)
    assert store.get(Student, student.id) == student
    found = whole(store)
    assert all(len(records) == 1 for records in found.values()), found
    take = store.all(Take)[0]
    assert take.blob is not None
    assert store.blobs.get(take.blob) == SOUND
    assert take.received == NOW
    assert store.all(Heard)[0].evidence == ({"met": 9, "sure": 10},)


def test_it_is_still_there_when_opened_again(
    store: Store, database: str | None, tmp_path: Path, calendar: Calendar
) -> None:
    furnish(store)
    before = whole(store)
    store.close()
    with open_store(tmp_path / "home", now=calendar, database=database) as again:
        assert whole(again) == before


def test_a_player_is_found_by_nickname_in_any_case(store: Store) -> None:
    kept = store.add(CLARINET)
    assert store.student("clarinet,  thursday") == kept
    with pytest.raises(RosterError, match=r"'Oboe'.*\nKnown: Clarinet, Thursday"):
        store.student("Oboe")


def test_a_nickname_is_given_once(store: Store) -> None:
    store.add(CLARINET)
    with pytest.raises(RosterError, match="already"):
        store.add(replace(CLARINET, nickname="clarinet, THURSDAY"))
    assert len(store.all(Student)) == 1


def test_an_edit_is_taken_back(store: Store) -> None:
    kept = store.add(CLARINET)
    edited = store.edit(kept, level=3)
    assert store.get(Student, kept.id).level == 3
    assert store.undo() == "edit player Clarinet, Thursday"
    assert store.get(Student, kept.id) == kept
    assert edited != kept


def test_an_edit_of_a_stale_record_is_refused(store: Store) -> None:
    kept = store.add(CLARINET)
    store.edit(kept, level=3)
    with pytest.raises(StoreError, match="somebody else"):
        store.edit(kept, level=4)
    assert store.get(Student, kept.id).level == 3


def test_a_deletion_takes_everything_along_and_comes_back_whole(store: Store) -> None:
    student = furnish(store)
    before = whole(store)
    assert store.delete(student) == 11
    assert store.all(Student) == ()
    assert store.all(Take) == ()
    assert store.all(Tune) == before["Tune"]
    store.undo()
    assert whole(store) == before
    assert store.blobs.get(store.all(Take)[0].blob or "") == SOUND


def test_deleting_a_tune_lets_go_of_it_and_undo_ties_it_again(store: Store) -> None:
    furnish(store)
    before = whole(store)
    store.delete(store.all(Tune)[0])
    assert store.all(Student)[0].tune is None
    assert store.all(Exercise)[0].tune is None
    store.undo()
    assert whole(store) == before


def test_adding_is_taken_back_unless_something_hangs_on_it(store: Store) -> None:
    kept = store.add(CLARINET)
    store.session = "another"
    store.add(LessonNote(kept.id, date(2026, 3, 5), "long tones"))
    store.session = "terminal"
    with pytest.raises(StoreError, match="hang on it"):
        store.undo()
    assert store.get(Student, kept.id) == kept


def test_undo_stays_within_its_session(store: Store) -> None:
    kept = store.add(CLARINET)
    store.session = "the studio"
    with pytest.raises(StoreError, match="nothing to take back"):
        store.undo()
    assert store.get(Student, kept.id) == kept
    assert store.history() == ()


def test_undo_never_overwrites_a_later_edit(store: Store) -> None:
    kept = store.add(CLARINET)
    edited = store.edit(kept, level=2 + 1)
    store.session = "another"
    store.edit(edited, level=4)
    store.session = "terminal"
    with pytest.raises(StoreError, match="changed since"):
        store.undo()
    assert store.get(Student, kept.id).level == 4


def test_settled_deletions_are_gone_with_their_recordings(store: Store, calendar: Calendar) -> None:
    student = furnish(store)
    store.delete(student)
    calendar.pass_(timedelta(hours=23))
    store.settle()
    assert list(store.blobs.digests())
    calendar.pass_(timedelta(hours=2))
    store.settle()
    assert not list(store.blobs.digests())
    with pytest.raises(StoreError, match="nothing to take back"):
        store.undo()


def test_a_minor_is_not_recorded_without_a_guardians_consent(store: Store) -> None:
    child = store.add(replace(CLARINET, nickname="Cornet, Tuesday", age_band="13 to 15"))
    take = Take(child.id, NOW, "audio/wav")
    with pytest.raises(RosterError, match="guardian"):
        store.keep_take(take, SOUND)
    assert not list(store.blobs.digests())
    consent = store.add(Consent(child.id, "recording", "the father", date(2026, 3, 1)))
    assert store.keep_take(take, SOUND).blob
    store.edit(consent, withdrawn=date(2026, 3, 4))
    with pytest.raises(RosterError, match="guardian"):
        store.keep_take(take, SOUND)


def test_equal_recordings_lie_there_once(store: Store) -> None:
    kept = store.add(CLARINET)
    for _ in range(3):
        store.keep_take(Take(kept.id, NOW, "audio/wav"), SOUND)
    assert len(store.all(Take)) == 3
    assert len(list(store.blobs.digests())) == 1


def test_a_text_no_database_keeps_is_refused_alike(store: Store) -> None:
    with pytest.raises(StoreError, match="character"):
        store.add(replace(CLARINET, goals="a\0b"))


def test_a_take_of_nobody_is_refused(store: Store) -> None:
    with pytest.raises(StoreError, match="loose end"):
        store.add(LessonNote("nobody", date(2026, 3, 5), "x"))


def test_several_are_kept_all_or_none(store: Store) -> None:
    with pytest.raises(RosterError):
        store.add_all([CLARINET, replace(CLARINET, instrument="flute")])
    assert store.all(Student) == ()


def test_what_was_witnessed_is_not_taken_back(store: Store) -> None:
    furnish(store)
    before = store.history()
    store.witness(Access(store.all(Take)[0].id, NOW, "player", "listened"))
    assert store.history() == before
    assert {one.who for one in store.all(Access)} == {"teacher", "player"}
