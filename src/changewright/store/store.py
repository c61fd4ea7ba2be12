"""The store: records in and out, each edit one transaction that can be taken back."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from secrets import token_hex
from types import TracebackType
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine, Table, delete, insert, select, update
from sqlalchemy.exc import DBAPIError, IntegrityError

from changewright.errors import RosterError, StoreError
from changewright.store._engine import READING, open_engine, scrub
from changewright.store.blobs import Blobs
from changewright.store.records import Consent, Record, Student, Take
from changewright.store.schema import (
    JOURNAL,
    TABLES,
    Row,
    plain_row,
    record_of,
    row_of,
    typed_row,
)
from changewright.store.tables import dependants, holder_words, loosened, table_named

__all__ = ["DATABASE", "RECORDINGS", "Store", "open_store", "remove"]

R = TypeVar("R", bound=Record)

DATABASE = "roster.sqlite"
RECORDINGS = "recordings"
SESSION = timedelta(days=1)
"""How long an edit at a terminal can be taken back. Source: common practice, no source."""

Step = dict[str, Any]


def open_store(
    home: Path,
    *,
    now: Callable[[], datetime],
    database: str | None = None,
    session: str = "terminal",
) -> "Store":
    """Open the store of a home folder, made where it is missing.

    ``database`` is the address of a PostgreSQL database, otherwise a SQLite file of the folder;
    recordings lie in the folder in any case. ``session`` names whose edits :meth:`Store.undo`
    takes back. Raises :class:`StoreError`.
    """
    url = database or f"sqlite:///{(home / DATABASE).absolute()}"
    return Store(open_engine(url), Blobs(home / RECORDINGS), now=now, session=session)


class Store:
    """Everything that the teacher keeps.

    Each method that changes something is one transaction, forced to the disk before it returns,
    and writes the rows before and after into the journal. ``now`` gives the moment of an edit.
    """

    def __init__(
        self,
        engine: Engine,
        blobs: Blobs,
        *,
        now: Callable[[], datetime],
        session: str = "terminal",
        new_id: Callable[[], str] = lambda: token_hex(8),
    ) -> None:
        self.engine = engine
        self.blobs = blobs
        self.session = session
        self.now = now
        self._new_id = new_id

    def __enter__(self) -> "Store":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    # reading

    def get(self, kind: type[R], record_id: str) -> R:
        """One record; raises :class:`StoreError` where there is none."""
        table = TABLES[kind]
        with self.reading() as connection:
            row = connection.execute(select(table).where(table.c.id == record_id)).mappings()
            found = row.one_or_none()
        if found is None:
            raise StoreError(f"there is no {holder_words(table)} {record_id!r}")
        return record_of(kind, dict(found))

    def all(self, kind: type[R], /, **where: Any) -> tuple[R, ...]:
        """All records of a kind whose fields are as given, in a steady order."""
        table = TABLES[kind]
        wanted = select(table).where(*(table.c[name] == value for name, value in where.items()))
        first = next((table.c[n] for n in _ORDER if n in table.c), table.c.id)
        with self.reading() as connection:
            rows = connection.execute(wanted.order_by(first, table.c.id)).mappings()
            return tuple(record_of(kind, dict(row)) for row in rows)

    def student(self, name: str) -> Student:
        """A student by nickname (in any case) or id; raises :class:`RosterError`."""
        roster = self.all(Student)
        wanted = " ".join(name.lower().split())
        found = [s for s in roster if s.nickname.lower() == wanted or s.id == name]
        if found:
            return found[0]
        known = ", ".join(s.nickname for s in roster) or "nobody yet"
        raise RosterError(f"there is no player {name!r} on the roster", remedy=f"Known: {known}.")

    # changing

    def add(self, record: R) -> R:
        """Keep a new record and return it with its id."""
        return self.add_all([record])[0]

    def add_all(self, records: Sequence[R]) -> tuple[R, ...]:
        """Keep several records, all or none; one edit to take back."""
        named = tuple(replace(r, id=r.id or self._new_id()) for r in records)
        with self.writing() as connection:
            for record in named:
                self._check(connection, record)
                connection.execute(insert(TABLES[type(record)]).values(row_of(record)))
            self._note(connection, "add", [_step(r, None, row_of(r)) for r in named])
        return named

    def witness(self, record: R) -> R:
        """Keep a record of what happened; no undo takes it back."""
        named = replace(record, id=record.id or self._new_id())
        with self.writing() as connection:
            self._check(connection, named)
            connection.execute(insert(TABLES[type(named)]).values(row_of(named)))
        return named

    def edit(self, record: R, **changes: Any) -> R:
        """Change some fields of a record and return it as it is now.

        Raises :class:`StoreError` where somebody changed it since it was read.
        """
        after = replace(record, **changes)
        table = TABLES[type(record)]
        with self.writing() as connection:
            kept = connection.execute(select(table).where(table.c.id == record.id)).mappings()
            if (row := kept.one_or_none()) is None or dict(row) != row_of(record):
                raise StoreError(
                    f"this {holder_words(table)} was changed by somebody else meanwhile",
                    remedy="Read it again and repeat the change.",
                )
            self._check(connection, after)
            connection.execute(update(table).where(table.c.id == record.id).values(**row_of(after)))
            self._note(connection, "edit", [_step(after, row_of(record), row_of(after))])
        return after

    def delete(self, record: Record) -> int:
        """Remove a record with all that hangs on it; returns how many rows went. It can be taken
        back until it is settled; recordings stay until then."""
        with self.writing() as connection:
            steps = remove(connection, TABLES[type(record)], record.id)
            self._note(connection, "delete", steps)
        return sum(step["after"] is None for step in steps)

    def keep_take(self, take: Take, recording: bytes) -> Take:
        """Keep a recording; when this returns it survives a crash.

        Raises :class:`RosterError` for a minor without a guardian's consent.
        """
        self.check_consent(self.get(Student, take.student))
        return self.add(replace(take, blob=self.blobs.put(recording)))

    def check_consent(self, student: Student) -> None:
        """Refuse a recording of a minor for whom no guardian has agreed, or agrees no longer.

        Source: domain reference 10.4: written parental consent before the first recording.
        """
        given = self.all(Consent, student=student.id, what="recording")
        if student.is_minor and not any(c.withdrawn is None for c in given):
            raise RosterError(
                f"no guardian's consent to recordings of {student.nickname!r} is on file",
                remedy="Ask for it in writing, then note it with 'changewright roster consent'.",
            )

    def undo(self) -> str:
        """Take back this session's latest edit; returns what it was. Raises :class:`StoreError`
        where there is none, or where later edits stand in its way."""
        with self.writing() as connection:
            mine = select(JOURNAL).where(JOURNAL.c.session == self.session)
            row = connection.execute(mine.order_by(JOURNAL.c.number.desc()).limit(1)).mappings()
            if (last := row.one_or_none()) is None:
                raise StoreError("there is nothing to take back")
            self._take_back(connection, last["steps"])
            connection.execute(delete(JOURNAL).where(JOURNAL.c.number == last["number"]))
        return _told(last["action"], last["steps"])

    def history(self) -> tuple[str, ...]:
        """What this session can take back, the latest first."""
        wanted = select(JOURNAL).where(JOURNAL.c.session == self.session)
        with self.reading() as connection:
            rows = connection.execute(wanted.order_by(JOURNAL.c.number.desc())).mappings()
            return tuple(_told(row["action"], row["steps"]) for row in rows)

    def settle(self, *, older: timedelta = SESSION) -> None:
        """End what can be taken back: forget edits older than ``older`` and the recordings that
        only they refer to."""
        with self.writing() as connection:
            old = select(JOURNAL).where(JOURNAL.c.at <= self.now() - older)
            rows = connection.execute(old).mappings().all()
            for row in rows:
                connection.execute(delete(JOURNAL).where(JOURNAL.c.number == row["number"]))
            let_go = {d for row in rows for d in _blobs_of(row["steps"])}
            loose = let_go - self.wanted_blobs(connection)
        for digest in sorted(loose):
            self.blobs.drop(digest)
        if any(row["action"] == "delete" for row in rows):
            scrub(self.engine)

    def wanted_blobs(self, connection: Connection) -> set[str]:
        """Digests of recordings that a take, or an edit that can be taken back, refers to."""
        takes = TABLES[Take]
        kept = connection.execute(select(takes.c.blob).where(takes.c.blob.is_not(None)))
        steps = connection.execute(select(JOURNAL.c.steps)).scalars()
        return set(kept.scalars()) | {d for each in steps for d in _blobs_of(each)}

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection to look, in one steady view."""
        with _said_plainly(), self.engine.connect() as connection:
            yield connection.execution_options(**{READING: True})

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A connection to change things, in one transaction."""
        with _said_plainly(), self.engine.begin() as connection:
            yield connection

    def _check(self, connection: Connection, record: Record) -> None:
        _check_texts(row_of(record))
        if not isinstance(record, Student):
            return
        table = TABLES[Student]
        names = connection.execute(select(table.c.nickname).where(table.c.id != record.id))
        wanted = " ".join(record.nickname.lower().split())
        if any(" ".join(n.lower().split()) == wanted for n in names.scalars()):
            raise RosterError(
                f"there is a player {record.nickname!r} already",
                remedy="Choose another nickname, such as the instrument and the day.",
            )

    def _note(self, connection: Connection, action: str, steps: list[Step]) -> None:
        connection.execute(
            insert(JOURNAL).values(session=self.session, at=self.now(), action=action, steps=steps)
        )

    def _take_back(self, connection: Connection, steps: list[Step]) -> None:
        undone = [s for s in steps if s["before"] is None]
        for step in (*reversed(undone), *(s for s in steps if s["before"] is not None)):
            table = table_named(step["table"])
            before = step["before"] and typed_row(table, step["before"])
            after = step["after"] and typed_row(table, step["after"])
            _check_unchanged(connection, table, after)
            if before is None:
                if len(dependants(connection, table, after["id"])) > 1:
                    raise StoreError(
                        f"can't take back the {holder_words(table)}: other things hang on it",
                        remedy="Delete it instead.",
                    )
                connection.execute(delete(table).where(table.c.id == after["id"]))
            elif after is None:
                connection.execute(insert(table).values(**before))
            else:
                connection.execute(update(table).where(table.c.id == before["id"]).values(**before))


_ORDER = ("nickname", "made", "received", "at", "given", "on", "starts", "title")


@contextmanager
def _said_plainly() -> Iterator[None]:
    """The database's complaints as ours."""
    try:
        yield
    except DBAPIError as fault:
        reason = _reason(fault)
        if isinstance(fault, IntegrityError) or "foreign key" in reason:
            raise StoreError(
                f"that would leave a loose end in the database: {reason}",
                remedy="Name a record that exists, and a nickname that is free.",
            ) from fault
        raise StoreError(
            f"the database refused: {reason}",
            remedy="Check that the disk isn't full and the database is reachable.",
        ) from fault


def _reason(fault: DBAPIError) -> str:
    """One line of the driver's complaint, which pg8000 gives as a table of letters."""
    told: Any = fault.orig.args[0] if fault.orig is not None and fault.orig.args else fault
    return str(told.get("M", told) if isinstance(told, dict) else told).splitlines()[0][:200]


def remove(connection: Connection, table: Table, record_id: str) -> list[Step]:
    """Remove a row with all that goes with it, and let go of it elsewhere; the steps taken."""
    gone = dependants(connection, table, record_id)
    loose = loosened(connection, gone)
    for other, before, after in loose:
        connection.execute(update(other).where(other.c.id == before["id"]).values(**after))
    for other, row in reversed(gone):
        connection.execute(delete(other).where(other.c.id == row["id"]))
    return [
        *({"table": t.name, "before": plain_row(r), "after": None} for t, r in gone),
        *({"table": t.name, "before": plain_row(b), "after": plain_row(a)} for t, b, a in loose),
    ]


def _step(record: Record, before: Row | None, after: Row | None) -> Step:
    return {
        "table": TABLES[type(record)].name,
        "before": before and plain_row(before),
        "after": after and plain_row(after),
    }


def _check_unchanged(connection: Connection, table: Table, after: Row | None) -> None:
    if after is None:
        return
    found = connection.execute(select(table).where(table.c.id == after["id"])).mappings()
    if (row := found.one_or_none()) is None or dict(row) != after:
        raise StoreError(
            f"can't take it back: the {holder_words(table)} was changed since",
            remedy="Edit it instead.",
        )


def _blobs_of(steps: list[Step]) -> Iterator[str]:
    for step in steps:
        for row in (step["before"], step["after"]):
            if step["table"] == TABLES[Take].name and row and row["blob"]:
                yield row["blob"]


def _check_texts(value: Any) -> None:
    """PITFALL: PostgreSQL keeps no NUL, and no encoding keeps half a surrogate pair."""
    if isinstance(value, str) and any(c == "\0" or "\ud800" <= c <= "\udfff" for c in value):
        raise StoreError(
            f"can't keep the text {value[:40]!r}: it holds a character that is none",
            remedy="Remove it.",
        )
    if isinstance(value, dict | list):
        for inner in (*value, *(value.values() if isinstance(value, dict) else ())):
            _check_texts(inner)


def _told(action: str, steps: list[Step]) -> str:
    first = steps[0] if steps else None
    if first is None:
        return action
    row = first["before"] or first["after"]
    name = row.get("nickname") or row.get("title") or row.get("label") or ""
    more = f" and {len(steps) - 1} more" if len(steps) > 1 else ""
    return f"{action} {holder_words(table_named(first['table']))} {name}".rstrip() + more
