import json
from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest

from changewright.errors import StoreError
from changewright.store.leaving import (
    due_to_leave,
    erase_student,
    erase_take,
    expire_recordings,
    export_student,
)
from changewright.store.records import Heard, LessonNote, Student, Take
from changewright.store.store import DATABASE, Store
from tests.stores import NOW
from tests.unit.store.test_store import CLARINET, SOUND, furnish


def bytes_under(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_an_export_holds_everything_and_the_recordings(store: Store) -> None:
    student = furnish(store)
    other = store.add(replace(CLARINET, nickname="Trombone, Monday"))
    store.add(LessonNote(other.id, date(2026, 3, 5), "of somebody else"))
    packed = export_student(store, student)
    with ZipFile(BytesIO(packed)) as archive:
        player = json.loads(archive.read("player.json"))
        [recording] = [n for n in archive.namelist() if n.startswith("recordings/")]
        assert archive.read(recording) == SOUND
    assert player["students"][0]["nickname"] == "Clarinet, Thursday"
    assert player["tunes"][0]["title"] == "Quayside Blues"
    kinds = {"takes", "hearings", "exercises", "lesson_notes", "teacher_marks", "consents"}
    assert all(len(player[kind]) == 1 for kind in kinds | {"plans", "phrases"})
    assert "somebody else" not in json.dumps(player)
    assert export_student(store, student) == packed


def test_erasing_leaves_no_row_no_recording_and_no_way_back(store: Store) -> None:
    student = furnish(store)
    other = store.add(replace(CLARINET, nickname="Trombone, Monday"))
    kept = store.keep_take(Take(other.id, NOW, "audio/wav"), SOUND[::-1])
    assert erase_student(store, student) == 11
    assert [s.nickname for s in store.all(Student)] == ["Trombone, Monday"]
    assert list(store.blobs.digests()) == [kept.blob]
    while store.history():  # what is left speaks of the other player only
        assert "Clarinet" not in store.undo()


def test_an_erased_take_is_gone_and_the_player_stays(store: Store) -> None:
    student = furnish(store)
    assert erase_take(store, store.all(Take)[0]) == 4, "take, hearing, correction, access"
    assert store.all(Take) == store.all(Heard) == ()
    assert list(store.blobs.digests()) == []
    assert store.get(Student, student.id) == student
    while store.history():  # no way back to it
        store.undo()
        assert store.all(Take) == ()


def test_erasing_leaves_no_byte_in_the_files(store: Store, tmp_path: Path) -> None:
    student = furnish(store)
    store.add(LessonNote(student.id, date(2026, 3, 5), "Zwetschgenmus"))
    store.edit(student, goals="Zwetschgenmus again")
    if store.engine.dialect.name != "sqlite":
        pytest.skip("a server's files are its own; VACUUM FULL is all a client can ask")
    home = tmp_path / "home"
    assert b"Zwetschgenmus" in bytes_under(home)
    erase_student(store, store.student("Clarinet, Thursday"))
    left = bytes_under(home)
    for trace in (b"Zwetschgenmus", b"Clarinet, Thursday", SOUND[:64], student.id.encode()):
        assert trace not in left, trace
    assert (home / DATABASE).is_file()


def test_a_shared_recording_stays_for_the_other(store: Store) -> None:
    student = furnish(store)
    other = store.add(replace(CLARINET, nickname="Trombone, Monday"))
    store.keep_take(Take(other.id, NOW, "audio/wav"), SOUND)
    erase_student(store, student)
    assert store.blobs.get(store.all(Take)[0].blob or "") == SOUND


def test_recordings_expire_on_their_day_and_what_was_heard_stays(store: Store) -> None:
    student = store.add(CLARINET)
    ends = date(2026, 6, 1)
    take = store.keep_take(Take(student.id, NOW, "audio/wav", expires=ends), SOUND)
    store.add(Heard(take.id, NOW, {"judged": True}))
    assert expire_recordings(store, ends - timedelta(days=1)) == ()
    store.settle(older=timedelta(0))
    assert [t.id for t in expire_recordings(store, ends)] == [take.id]
    assert store.all(Take)[0].blob is None
    assert len(store.all(Heard)) == 1
    assert list(store.blobs.digests()) == []
    with pytest.raises(StoreError, match="not in the folder"):
        store.blobs.get(take.blob or "")


def test_an_expired_recording_goes_even_while_its_keeping_could_be_undone(store: Store) -> None:
    student = store.add(CLARINET)
    day = date(2026, 3, 6)
    store.keep_take(Take(student.id, NOW, "audio/wav", expires=day), SOUND)
    expire_recordings(store, day)
    assert list(store.blobs.digests()) == []
    take = store.all(Take)[0]
    store.delete(take)
    store.undo()
    assert store.all(Take) == (take,)
    assert take.blob is None
    store.undo()
    assert store.all(Take) == ()


def test_students_who_left_thirty_days_ago_are_named(store: Store) -> None:
    store.add(CLARINET)
    gone = store.add(replace(CLARINET, nickname="Flute, Monday", ended=date(2026, 2, 1)))
    assert due_to_leave(store, date(2026, 3, 2)) == ()
    assert due_to_leave(store, date(2026, 3, 3)) == (gone,)
