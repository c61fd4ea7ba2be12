"""The database behind one door: a URL in, an engine of the newest schema out."""

import logging
import os
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from changewright.errors import StoreError
from changewright.store.schema import METADATA

__all__ = ["READING", "open_engine", "scrub", "upgrade"]

READING = "changewright_reading"
"""The execution option of a connection that only looks."""

_PAUSE_S = 10
_WRITE_LOCK = 4719  # the number of our advisory lock in PostgreSQL


def open_engine(url: str) -> Engine:
    """Connect to a database and bring its schema up to date; raises :class:`StoreError`."""
    address = _address(url)
    try:
        engine = _sqlite(address) if address.get_backend_name() == "sqlite" else _server(address)
        try:
            upgrade(engine)
        except BaseException:
            engine.dispose()
            raise
    except (DBAPIError, ModuleNotFoundError, OSError) as fault:
        raise StoreError(
            f"can't open the roster's database {_shown(address)}: {_reason(fault)}",
            remedy="Check the address and that the server runs; "
            "PostgreSQL needs 'pip install changewright[postgresql]'.",
        ) from fault
    return engine


def upgrade(engine: Engine) -> None:
    """Run the migrations that are missing; refuse a database of a later version."""
    from alembic import command
    from alembic.config import Config
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    logging.getLogger("alembic").setLevel(logging.WARNING)
    with as_file(files("changewright.store").joinpath("migrations")) as scripts:
        config = Config()
        config.set_main_option("script_location", str(scripts).replace("%", "%%"))
        known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
        with engine.begin() as connection:
            _lock(connection)
            now = MigrationContext.configure(connection).get_current_revision()
            if now is not None and now not in known:
                raise StoreError(
                    f"the database is of a later version ({now})",
                    remedy="Use the changewright that made it, or a newer one.",
                )
            config.attributes["connection"] = connection
            command.upgrade(config, "head")


def scrub(engine: Engine) -> None:
    """Overwrite what deleted rows left behind in the database's files."""
    raw = engine.raw_connection()  # VACUUM runs outside any transaction, ours or a driver's
    try:
        if engine.dialect.name == "sqlite":
            raw.cursor().execute("VACUUM")
            raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        else:
            _vacuum_server(raw)
    finally:
        raw.close()


def _vacuum_server(raw: Any) -> None:
    raw.rollback()
    raw.driver_connection.autocommit = True
    try:
        for table in METADATA.tables:
            raw.cursor().execute(f"VACUUM FULL {table}")
    finally:
        raw.driver_connection.autocommit = False


def _address(url: str) -> URL:
    try:
        address = make_url(url)
    except ArgumentError as fault:
        raise StoreError(
            f"{url!r} is no database address",
            remedy="Write a file's path, or postgresql://user@host/name.",
        ) from fault
    if address.get_backend_name() not in ("sqlite", "postgresql"):
        raise StoreError(
            f"can't keep a roster in {address.get_backend_name()}",
            remedy="Use SQLite (a file's path) or postgresql://user@host/name.",
        )
    if address.drivername == "postgresql":
        return address.set(drivername="postgresql+pg8000")
    return address


def _server(address: URL) -> Engine:
    engine = create_engine(address, pool_pre_ping=True)
    event.listen(engine, "connect", _settle_server)
    return engine


def _settle_server(raw: Any, _record: Any) -> None:
    """A commit has reached the disk when it returns."""
    cursor = raw.cursor()
    cursor.execute("SET synchronous_commit TO on")
    cursor.close()
    raw.commit()


def _sqlite(address: URL) -> Engine:
    if address.database and address.database != ":memory:":
        _private(Path(address.database))
    engine = create_engine(address, connect_args={"timeout": _PAUSE_S})
    event.listen(engine, "connect", _settle_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _private(path: Path) -> None:
    """Make the file's folder, and the file for its owner alone: it speaks of people."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))


def _settle_sqlite(raw: Any, _record: Any) -> None:
    """A write-ahead log that is forced to the disk at each commit; deleted bytes overwritten."""
    raw.isolation_level = None  # we say BEGIN ourselves
    cursor = raw.cursor()
    for pragma in (
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        "secure_delete=ON",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    reading = connection.get_execution_options().get(READING)
    connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")


def _lock(connection: Connection) -> None:
    """One migration at a time; SQLite's BEGIN IMMEDIATE has done it already."""
    if connection.dialect.name == "postgresql":
        connection.execute(text(f"SELECT pg_advisory_xact_lock({_WRITE_LOCK})"))


def _shown(address: URL) -> str:
    return address.render_as_string(hide_password=True)


def _reason(fault: Exception) -> str:
    inner = fault.orig if isinstance(fault, DBAPIError) else fault
    return str(inner).splitlines()[0][:200] if str(inner) else type(inner).__name__
