"""Everything in one file and back: rows as JSON, recordings as they are, each with its digest.

The archive is a ZIP with ``backup.json``::

    {"format": "changewright-backup/1", "schema": "0001",
     "tables": {"students": [{"id": "...", ...}], ...},
     "recordings": ["<sha256>", ...]}

and ``recordings/<sha256>``. It holds no more than the store does, and names no machine.
"""

import json
import os
from hashlib import sha256
from pathlib import Path
from secrets import token_hex
from typing import Any
from zipfile import BadZipFile, ZipFile

from sqlalchemy import delete, func, insert, select, text
from sqlalchemy.exc import IntegrityError

from changewright.errors import StoreError
from changewright.store.leaving import stamped
from changewright.store.records import Take
from changewright.store.schema import JOURNAL, TABLES, Row, plain_row, typed_row
from changewright.store.store import Store
from changewright.store.tables import table_named

__all__ = ["FORMAT", "backup", "restore"]

FORMAT = "changewright-backup/1"
_MOST_BYTES = 2_000_000_000

Counts = dict[str, int]


def backup(store: Store, target: Path) -> Counts:
    """Write the whole store into one file, or nothing; returns how many rows and recordings.

    The same contents give the same bytes. Edits that could still be taken back are not kept.
    Raises :class:`StoreError` where a recording is missing or damaged.
    """
    with store.reading() as connection:
        revision = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
        tables = {
            table.name: [
                plain_row(dict(row))
                for row in connection.execute(select(table).order_by(table.c.id)).mappings()
            ]
            for table in TABLES.values()
        }
    blobs = sorted({row["blob"] for row in tables[TABLES[Take].name] if row["blob"]})
    document = {"format": FORMAT, "schema": revision, "tables": tables, "recordings": blobs}
    target.parent.mkdir(parents=True, exist_ok=True)
    coming = target.parent / f".{target.name}-{token_hex(4)}"
    try:
        with coming.open("xb") as file:
            coming.chmod(0o600)
            with ZipFile(file, "w") as archive:
                content = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
                archive.writestr(stamped("backup.json"), content)
                for digest in blobs:
                    archive.writestr(stamped(f"recordings/{digest}"), store.blobs.get(digest))
            file.flush()
            os.fsync(file.fileno())
        coming.replace(target)
    finally:
        coming.unlink(missing_ok=True)
    return _counts(tables, blobs)


def restore(store: Store, source: Path, *, replace: bool = False) -> Counts:
    """Read a backup into an empty store, whole or not at all; returns what came back.

    With ``replace`` whatever the store holds gives way. Raises :class:`StoreError` for a file
    that is no backup, is damaged, or is of a later version, and for a store that isn't empty.
    """
    try:
        with ZipFile(source) as archive:
            document = _document(archive)
            blobs = document["recordings"]
            rows = _rows(document)
            contents = {digest: _recording(archive, digest) for digest in blobs}
    except (BadZipFile, OSError, KeyError, ValueError, TypeError, RecursionError) as fault:
        raise StoreError(
            f"{source.name} can't be used as a backup: {type(fault).__name__}: {fault}",
            remedy="Name a file that 'changewright backup' wrote, whole.",
        ) from fault
    for content in contents.values():
        store.blobs.put(content)
    try:
        _fill(store, rows, replace)
    except IntegrityError as fault:  # pragma: no cover - said by the store's own door
        raise StoreError(f"{source.name} has loose ends: {fault.orig}") from fault
    return _counts(rows, blobs)


def _fill(store: Store, rows: dict[str, list[Row]], replace: bool) -> None:
    with store.writing() as connection:
        before = store.wanted_blobs(connection)
        held = sum(
            connection.execute(select(func.count()).select_from(t)).scalar_one()
            for t in TABLES.values()
        )
        if held and not replace:
            raise StoreError(
                f"this store isn't empty: it holds {held} rows",
                remedy="Restore into another --home, or replace all of it with --replace.",
            )
        connection.execute(delete(JOURNAL))
        for table in reversed(TABLES.values()):
            connection.execute(delete(table))
        for name, several in rows.items():
            if several:
                connection.execute(insert(table_named(name)), several)
        loose = before - store.wanted_blobs(connection)
    for digest in sorted(loose):
        store.blobs.drop(digest)


def _document(archive: ZipFile) -> dict[str, Any]:
    entry = archive.getinfo("backup.json")
    if entry.file_size > _MOST_BYTES:
        raise ValueError("larger than any roster")
    document = json.loads(archive.read(entry))
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise ValueError(f"its format is not {FORMAT}")
    if document["schema"] not in _READABLE:
        raise ValueError(f"its schema {document['schema']!r} is of a later version")
    if not isinstance(document["recordings"], list):
        raise ValueError("its recordings are no list")
    return document


_READABLE = ("0001", "0002")
_SINCE_0002 = {"corrections", "accesses"}


def _rows(document: dict[str, Any]) -> dict[str, list[Row]]:
    tables = document["tables"]
    if document["schema"] == "0001":
        takes = [{"lesson": "", **row} for row in tables[TABLES[Take].name]]
        tables = {**tables, **dict.fromkeys(_SINCE_0002, ()), TABLES[Take].name: takes}
    return {
        table.name: [typed_row(table, row) for row in tables[table.name]]
        for table in TABLES.values()
    }


def _recording(archive: ZipFile, digest: str) -> bytes:
    entry = archive.getinfo(f"recordings/{digest}")
    if entry.file_size > _MOST_BYTES:
        raise ValueError("a recording is larger than any take")
    content = archive.read(entry)
    if sha256(content).hexdigest() != digest:
        raise ValueError(f"the recording {digest[:12]} is damaged")
    return content


def _counts(tables: dict[str, list[Row]], blobs: list[str]) -> Counts:
    return {**{name: len(rows) for name, rows in tables.items()}, "recordings": len(blobs)}
