"""What a student may ask for: to see everything that is kept, and to have it gone."""

import io
import json
from datetime import date, timedelta
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from sqlalchemy import Connection, delete, select, update

from changewright.store._engine import scrub
from changewright.store.records import Student, Take, Tune
from changewright.store.schema import JOURNAL, TABLES, plain_row
from changewright.store.store import Store, remove
from changewright.store.tables import dependants

__all__ = [
    "due_to_leave",
    "erase_student",
    "erase_take",
    "expire_recordings",
    "export_student",
    "stamped",
]

FORMAT = "changewright-player/1"
AFTER_TUITION = timedelta(days=30)
"""Source: domain reference 10.4: delete at the end of tuition plus 30 days."""


def export_student(store: Store, student: Student) -> bytes:
    """Everything kept of one student as one ZIP: ``player.json`` and the recordings.

    The same contents give the same bytes.
    """
    with store.reading() as connection:
        rows = dependants(connection, TABLES[Student], student.id)
        tunes = {row["tune"] for _, row in rows if row.get("tune")}
        table = TABLES[Tune]
        kept = connection.execute(select(table).where(table.c.id.in_(tunes))).mappings().all()
    found: dict[str, list[dict[str, Any]]] = {"tunes": [dict(row) for row in kept]}
    for holder, row in rows:
        found.setdefault(holder.name, []).append(plain_row(row))
    document: dict[str, Any] = {"format": FORMAT}
    document |= {name: sorted(several, key=_by_id) for name, several in sorted(found.items())}
    blobs = sorted({row["blob"] for _, row in rows if row.get("blob")})
    packed = io.BytesIO()
    with ZipFile(packed, "w") as archive:
        text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
        archive.writestr(stamped("player.json"), text)
        for digest in blobs:
            archive.writestr(stamped(f"recordings/{digest}"), store.blobs.get(digest))
    return packed.getvalue()


def erase_student(store: Store, student: Student) -> int:
    """Remove a student for good and return how many rows went. It can't be taken back.

    Rows, journal entries and recordings that nobody else refers to are deleted, the recordings
    written over first, and the database is rewritten so that no deleted byte stays in its files.
    """
    return _erase(store, student)


def erase_take(store: Store, take: Take) -> int:
    """Remove a take for good, its recording and what was heard in it with it; returns how many
    rows went."""
    return _erase(store, take)


def _erase(store: Store, record: Student | Take) -> int:
    with store.writing() as connection:
        steps = remove(connection, TABLES[type(record)], record.id)
        gone = [step["before"] for step in steps if step["after"] is None]
        ids = {row["id"] for row in gone} | {record.id}
        for entry in connection.execute(select(JOURNAL)).mappings().all():
            if any(_speaks_of(step, ids) for step in entry["steps"]):
                gone += [row for s in entry["steps"] for row in (s["before"], s["after"]) if row]
                connection.execute(delete(JOURNAL).where(JOURNAL.c.number == entry["number"]))
        loose = {row["blob"] for row in gone if row.get("blob")} - store.wanted_blobs(connection)
    for digest in sorted(loose):
        store.blobs.drop(digest)
    scrub(store.engine)
    return sum(step["after"] is None for step in steps)


def expire_recordings(store: Store, on: date) -> tuple[Take, ...]:
    """Delete the recordings whose day has come; what was heard in them stays. Returns the takes
    as they were."""
    table = TABLES[Take]
    expired = tuple(t for t in store.all(Take) if t.blob and t.expires and t.expires <= on)
    with store.writing() as connection:
        for take in expired:
            connection.execute(update(table).where(table.c.id == take.id).values(blob=None))
        kept = connection.execute(select(table.c.blob).where(table.c.blob.is_not(None))).scalars()
        loose = {take.blob for take in expired if take.blob} - set(kept)
        _forget(connection, loose)
    for digest in sorted(loose):
        store.blobs.drop(digest)
    return expired


def due_to_leave(store: Store, on: date) -> tuple[Student, ...]:
    """Students whose tuition ended 30 days ago or more, for the teacher to erase."""
    return tuple(s for s in store.all(Student) if s.ended and s.ended + AFTER_TUITION <= on)


def stamped(name: str) -> ZipInfo:
    """An entry of an archive without a moment of its own."""
    entry = ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    entry.compress_type = ZIP_DEFLATED
    entry.external_attr = 0o600 << 16
    return entry


def _speaks_of(step: dict[str, Any], ids: set[str]) -> bool:
    rows = [row for row in (step["before"], step["after"]) if row]
    return any({row["id"], row.get("student"), row.get("take")} & ids for row in rows)


def _forget(connection: Connection, digests: set[str]) -> None:
    """Let the journal give back takes without these recordings: an expiry can't be undone."""
    for entry in connection.execute(select(JOURNAL)).mappings().all():
        steps = [
            {n: _without(row, digests) if isinstance(row, dict) else row for n, row in step.items()}
            for step in entry["steps"]
        ]
        if steps != entry["steps"]:
            this = JOURNAL.c.number == entry["number"]
            connection.execute(update(JOURNAL).where(this).values(steps=steps))


def _without(row: dict[str, Any], digests: set[str]) -> dict[str, Any]:
    return row | {"blob": None} if row.get("blob") in digests else row


def _by_id(row: dict[str, Any]) -> str:
    return str(row["id"])
