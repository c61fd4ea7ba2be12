"""Real processes, killed at any moment: no finished take is lost, nothing is left half-done."""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import pytest

from changewright.store.backup import backup, restore
from changewright.store.leaving import erase_student
from changewright.store.records import Student, Take
from changewright.store.store import Store, open_store
from tests.stores import NOW, Calendar, new_database, postgresql_server

HEAD = """
import sys
from pathlib import Path
from changewright.store.records import Student, Take
from changewright.store.store import open_store
from tests.stores import NOW, Calendar
home, database = Path(sys.argv[1]), sys.argv[2] or None
store = open_store(home, now=Calendar(), database=database)
"""
KEEP = (
    HEAD
    + """
student = store.student("Clarinet, Thursday")
for number in range(10_000):
    sound = (f"take {sys.argv[3]} {number} ".encode() * 4000)
    take = store.keep_take(Take(student.id, NOW, "audio/wav"), sound)
    print(take.id, take.blob, flush=True)
"""
)
RESTORE = (
    HEAD
    + """
from changewright.store.backup import restore
print("begun", flush=True)
while True:
    restore(store, Path(sys.argv[3]), replace=True)
    print("done", flush=True)
"""
)
ERASE = (
    HEAD
    + """
from changewright.store.leaving import erase_student
print("begun", flush=True)
erase_student(store, store.student("Clarinet, Thursday"))
print("done", flush=True)
"""
)
ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    with postgresql_server() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest) -> str:
    if request.param == "sqlite":
        return ""
    return new_database(request.getfixturevalue("server"))


def killed(script: str, home: Path, database: str, last: str, after_s: float) -> list[str]:
    """Run a script, kill it ``after_s`` seconds after its first line, and give its lines."""
    process = subprocess.Popen(
        [sys.executable, "-c", script, str(home), database, last],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert process.stdout is not None
    first = process.stdout.readline()
    time.sleep(after_s)
    process.send_signal(signal.SIGKILL)
    rest = process.stdout.read()
    process.stdout.close()
    process.wait()
    lines = (first + rest).splitlines(keepends=True)
    return [line.strip() for line in lines if line.endswith("\n")]


def sound(store: Store) -> None:
    """Every take's recording is there, whole, and the database agrees with itself."""
    for take in store.all(Take):
        assert take.blob is not None
        assert sha256(store.blobs.get(take.blob)).hexdigest() == take.blob
    if store.engine.dialect.name == "sqlite":
        with store.engine.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []


def test_no_finished_take_is_lost(tmp_path: Path, database: str) -> None:
    dice = random.Random(47)
    with open_store(tmp_path, now=Calendar(), database=database or None) as store:
        store.add(Student("Clarinet, Thursday", "clarinet"))
    finished: list[str] = []
    for turn in range(6):
        finished += killed(KEEP, tmp_path, database, str(turn), dice.uniform(0, 0.4))
        with open_store(tmp_path, now=Calendar(), database=database or None) as store:
            kept = {f"{take.id} {take.blob}" for take in store.all(Take)}
            assert set(finished) <= kept
            assert len(kept) - len(set(finished)) <= turn + 1  # kept, but not told in time
            sound(store)
    assert len(finished) >= 6


def test_a_restore_cut_off_leaves_the_old_or_the_new(tmp_path: Path, database: str) -> None:
    dice = random.Random(48)
    with open_store(tmp_path / "other", now=Calendar()) as other:
        student = other.add(Student("Flute, Monday", "flute"))
        for number in range(30):
            other.keep_take(Take(student.id, NOW, "audio/wav"), b"%d" % number * 999)
        backup(other, tmp_path / "roster.zip")
    with open_store(tmp_path, now=Calendar(), database=database or None) as store:
        store.add(Student("Clarinet, Thursday", "clarinet"))
    for _ in range(4):
        last = str(tmp_path / "roster.zip")
        told = killed(RESTORE, tmp_path, database, last, dice.uniform(0, 0.3))
        with open_store(tmp_path, now=Calendar(), database=database or None) as store:
            found = [s.nickname for s in store.all(Student)], len(store.all(Take))
            assert found in ((["Clarinet, Thursday"], 0), (["Flute, Monday"], 30))
            assert "done" not in told or found[1] == 30
            sound(store)
            restore(store, tmp_path / "roster.zip", replace=True)


def test_an_erasure_cut_off_is_whole_or_can_be_repeated(tmp_path: Path, database: str) -> None:
    dice = random.Random(49)
    for turn in range(3):
        home = tmp_path / str(turn)
        with open_store(home, now=Calendar(), database=database or None) as store:
            student = store.add(Student("Clarinet, Thursday", "clarinet"))
            for number in range(10):
                store.keep_take(Take(student.id, NOW, "audio/wav"), b"%d" % number * 999)
        killed(ERASE, home, database, "", dice.uniform(0, 0.05))
        with open_store(home, now=Calendar(), database=database or None) as store:
            left = store.all(Student)
            assert len(store.all(Take)) == 10 * len(left)
            if left:
                sound(store)
                erase_student(store, left[0])
            store.blobs.tidy((), Calendar().at.replace(year=2100))
            assert list(store.blobs.digests()) == []


def test_a_first_opening_cut_off_can_be_repeated(tmp_path: Path) -> None:
    dice = random.Random(50)
    script = "print('begun', flush=True)\n" + HEAD
    for turn in range(4):
        killed(script, tmp_path / str(turn), "", "", dice.uniform(0.2, 1.2))
        with open_store(tmp_path / str(turn), now=Calendar()) as store:
            store.add(Student("Clarinet, Thursday", "clarinet"))
            sound(store)
