"""Laws of the store: whatever was done, undoing it gives back what was; so does a backup."""

import tempfile
from pathlib import Path
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from changewright.errors import StoreError
from changewright.store.backup import backup, restore
from changewright.store.records import KINDS, Exercise, Heard, Record, Student, Take, Tune
from changewright.store.store import open_store
from tests.stores import NOW, Calendar, everything

TEXTS = st.text(
    st.characters(exclude_characters="\0", exclude_categories=("Cs",)), min_size=1, max_size=20
)

Snapshot = dict[str, tuple[Record, ...]]


class RosterMachine(RuleBasedStateMachine):
    """Do anything in any order; every edit can be taken back, and every state backed up."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory(prefix="changewright-laws-")
        self.home = Path(self.folder.name)
        self.store = open_store(self.home / "home", now=Calendar())
        self.past: list[Snapshot] = []
        self.count = 0

    def teardown(self) -> None:
        self.store.close()
        self.folder.cleanup()

    def now(self) -> Snapshot:
        return {kind.__name__: self.store.all(kind) for kind in KINDS}

    def students(self) -> tuple[Student, ...]:
        return self.store.all(Student)

    @rule(text=TEXTS)
    def add_student(self, text: str) -> None:
        self.past.append(self.now())
        self.count += 1
        self.store.add(Student(f"Player {self.count}", "flute", goals=text))

    @rule(text=TEXTS)
    def add_tune(self, text: str) -> None:
        self.past.append(self.now())
        self.store.add(Tune(text, "F", f"title: {text}"))

    @precondition(lambda self: self.students() and self.store.all(Tune))
    @rule(data=st.data())
    def furnish(self, data: st.DataObject) -> None:
        student = data.draw(st.sampled_from(self.students()))
        tune = data.draw(st.sampled_from(self.store.all(Tune)))
        self.past.append(self.now())
        self.store.add_all(everything(student, tune))

    @precondition(lambda self: self.students())
    @rule(data=st.data(), sound=st.binary(min_size=1, max_size=30))
    def keep_take(self, data: st.DataObject, sound: bytes) -> None:
        student = data.draw(st.sampled_from(self.students()))
        given = [e.id for e in self.store.all(Exercise, student=student.id)]
        exercise = data.draw(st.sampled_from([None, *given]))
        self.past.append(self.now())
        self.store.keep_take(Take(student.id, NOW, "wav", exercise=exercise), sound)

    @precondition(lambda self: self.store.all(Take))
    @rule(data=st.data(), share=st.floats(0, 1))
    def hear(self, data: st.DataObject, share: float) -> None:
        take = data.draw(st.sampled_from(self.store.all(Take)))
        self.past.append(self.now())
        self.store.add(Heard(take.id, NOW, {"share": share}, ({"met": 3},)))

    @precondition(lambda self: self.students())
    @rule(data=st.data(), level=st.integers(1, 8), text=TEXTS)
    def edit(self, data: st.DataObject, level: int, text: str) -> None:
        student = data.draw(st.sampled_from(self.students()))
        tune: Any = data.draw(st.sampled_from([None, *(t.id for t in self.store.all(Tune))]))
        self.past.append(self.now())
        self.store.edit(student, level=level, goals=text, tune=tune)

    @precondition(lambda self: any(self.now().values()))
    @rule(data=st.data())
    def delete(self, data: st.DataObject) -> None:
        records = [record for several in self.now().values() for record in several]
        record = data.draw(st.sampled_from(records))
        self.past.append(self.now())
        assert self.store.delete(record) >= 1

    @rule()
    def undo(self) -> None:
        if not self.past:
            try:
                self.store.undo()
            except StoreError:
                return
            raise AssertionError("there was nothing to take back")
        self.store.undo()
        assert self.now() == self.past.pop()

    @rule()
    def back_up_and_restore(self) -> None:
        backup(self.store, self.home / "roster.zip")
        with open_store(self.home / f"other-{self.count}", now=Calendar()) as other:
            restore(other, self.home / "roster.zip", replace=True)
            assert {kind.__name__: other.all(kind) for kind in KINDS} == self.now()
            for take in other.all(Take):
                assert take.blob
                assert other.blobs.get(take.blob) == self.store.blobs.get(take.blob)

    @invariant()
    def every_take_has_its_recording(self) -> None:
        for take in self.store.all(Take):
            assert take.blob
            assert self.store.blobs.has(take.blob)


TestRoster = RosterMachine.TestCase
TestRoster.settings = settings(max_examples=10, stateful_step_count=12, deadline=None)
