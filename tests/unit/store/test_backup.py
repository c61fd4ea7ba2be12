import json
from collections.abc import Callable
from pathlib import Path
from zipfile import ZipFile

import pytest

from changewright.errors import StoreError
from changewright.store.backup import backup, restore
from changewright.store.records import Student, Take
from changewright.store.store import Store, open_store
from tests.stores import Calendar
from tests.unit.store.test_store import CLARINET, SOUND, furnish, whole


def elsewhere(tmp_path: Path, name: str = "new") -> Store:
    return open_store(tmp_path / name, now=Calendar())


def test_a_backup_comes_back_whole_from_either_database(store: Store, tmp_path: Path) -> None:
    furnish(store)
    counts = backup(store, tmp_path / "roster.zip")
    assert counts["students"] == counts["recordings"] == 1
    with elsewhere(tmp_path) as other:
        assert restore(other, tmp_path / "roster.zip") == counts
        assert whole(other) == whole(store)
        assert other.blobs.get(other.all(Take)[0].blob or "") == SOUND


def test_the_same_contents_give_the_same_bytes(store: Store, tmp_path: Path) -> None:
    furnish(store)
    backup(store, tmp_path / "one.zip")
    backup(store, tmp_path / "two.zip")
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    with elsewhere(tmp_path) as other:
        restore(other, tmp_path / "one.zip")
        backup(other, tmp_path / "three.zip")
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "three.zip").read_bytes()


def test_a_restore_into_either_database(store: Store, tmp_path: Path) -> None:
    with elsewhere(tmp_path, "old") as old:
        furnish(old)
        backup(old, tmp_path / "roster.zip")
        restore(store, tmp_path / "roster.zip")
        assert whole(store) == whole(old)


def test_a_full_store_is_replaced_only_when_asked(store: Store, tmp_path: Path) -> None:
    furnish(store)
    backup(store, tmp_path / "roster.zip")
    before = whole(store)
    store.edit(store.all(Student)[0], level=8)
    with pytest.raises(StoreError, match="isn't empty"):
        restore(store, tmp_path / "roster.zip")
    assert store.all(Student)[0].level == 8
    restore(store, tmp_path / "roster.zip", replace=True)
    assert whole(store) == before


def spoil_json(change: Callable[[dict[str, object]], object]) -> Callable[[Path], None]:
    def spoil(path: Path) -> None:
        with ZipFile(path) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
        document = json.loads(parts["backup.json"])
        change(document)
        parts["backup.json"] = json.dumps(document).encode()
        with ZipFile(path, "w") as archive:
            for name, content in parts.items():
                archive.writestr(name, content)

    return spoil


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-100])


def flip_recording(path: Path) -> None:
    with ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = next(n for n in parts if n.startswith("recordings/"))
    parts[name] = parts[name][:-1] + b"!"
    with ZipFile(path, "w") as archive:
        for each, content in parts.items():
            archive.writestr(each, content)


def as_of_0001(document: dict[str, object]) -> None:
    """What the first version wrote: no corrections, no accesses, takes without a lesson."""
    tables = document["tables"]
    assert isinstance(tables, dict)
    document["schema"] = "0001"
    for name in ("corrections", "accesses"):
        del tables[name]
    for row in tables["takes"]:
        del row["lesson"]


def test_a_backup_of_the_first_version_is_read(store: Store, tmp_path: Path) -> None:
    furnish(store)
    backup(store, tmp_path / "roster.zip")
    spoil_json(as_of_0001)(tmp_path / "roster.zip")
    with elsewhere(tmp_path) as other:
        restore(other, tmp_path / "roster.zip")
        before, after = whole(store), whole(other)
    assert after["Correction"] == after["Access"] == ()
    for kind in before.keys() - {"Correction", "Access"}:
        assert after[kind] == before[kind]


SPOILED = {
    "cut short": cut,
    "not a ZIP": lambda path: path.write_text("hello"),
    "missing": lambda path: path.unlink(),
    "a recording damaged": flip_recording,
    "of a later version": spoil_json(lambda d: d.update(schema="9999")),
    "another format": spoil_json(lambda d: d.update(format="something/1")),
    "a table missing": spoil_json(lambda d: d["tables"].pop("students")),  # type: ignore[attr-defined]
    "a row with a strange field": spoil_json(
        lambda d: d["tables"]["students"][0].update(shoe=43)  # type: ignore[index]
    ),
    "a level that is a text": spoil_json(
        lambda d: d["tables"]["students"][0].update(level="two")  # type: ignore[index]
    ),
    "a take of nobody": spoil_json(lambda d: d["tables"]["takes"][0].update(student="x")),  # type: ignore[index]
    "rows that are no list": spoil_json(lambda d: d["tables"].update(students=3)),  # type: ignore[attr-defined]
}


@pytest.mark.parametrize("fault", SPOILED)
@pytest.mark.parametrize("database", [None])
def test_a_spoiled_backup_changes_nothing(store: Store, tmp_path: Path, fault: str) -> None:
    with elsewhere(tmp_path, "old") as old:
        furnish(old)
        backup(old, tmp_path / "roster.zip")
    SPOILED[fault](tmp_path / "roster.zip")
    kept = store.add(CLARINET)
    with pytest.raises(StoreError):
        restore(store, tmp_path / "roster.zip", replace=True)
    assert store.all(Student) == (kept,)


def test_a_backup_refuses_to_lose_a_recording(store: Store, tmp_path: Path) -> None:
    furnish(store)
    digest = next(iter(store.blobs.digests()))
    (store.blobs.folder / digest[:2] / digest[2:]).write_bytes(b"rotten")
    with pytest.raises(StoreError, match="damaged"):
        backup(store, tmp_path / "roster.zip")
    assert list(tmp_path.glob("*.zip*")) == []
    assert list(tmp_path.glob(".roster*")) == []
