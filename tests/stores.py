"""Stores for tests: SQLite in a folder, and a real PostgreSQL server of the tests' own.

The server's programs are Debian's package ``postgresql``; ``tools/postgresql.sh`` installs them.
Without them the PostgreSQL half is skipped, unless ``CHANGEWRIGHT_NEEDS_POSTGRESQL`` is set.
"""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from changewright.store.records import (
    Consent,
    Exercise,
    KeptPlan,
    LessonNote,
    Phrase,
    Record,
    Student,
    TeacherMark,
    Tune,
)

__all__ = [
    "Calendar",
    "drop_database",
    "everything",
    "new_database",
    "postgresql_server",
    "programs",
]

_NUMBERS = count(1)
NOW = datetime(2026, 3, 5, 18, 30, tzinfo=UTC)
DAY = NOW.date()


@dataclass
class Calendar:
    """A clock that tests turn themselves."""

    at: datetime = NOW

    def __call__(self) -> datetime:
        return self.at

    def pass_(self, span: timedelta) -> None:
        self.at += span


def programs() -> Path | None:
    """The folder of PostgreSQL's server programs, the newest, or None."""
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    debian = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: p.parts[4])
    return debian[-1].parent if debian else None


@contextmanager
def postgresql_server() -> Iterator[str]:
    """Start a server on a free port of this machine, give its address, and stop it."""
    bin_folder = programs()
    if bin_folder is None:
        if os.environ.get("CHANGEWRIGHT_NEEDS_POSTGRESQL"):
            raise RuntimeError("PostgreSQL's server is missing; run tools/postgresql.sh")
        pytest.skip("PostgreSQL's server is not installed (tools/postgresql.sh does it)")
    memory = Path("/dev/shm")  # a disk would be made to wait for files that nobody needs
    folder = Path(
        tempfile.mkdtemp(prefix="changewright-pg-", dir=memory if memory.is_dir() else None)
    )
    user = _owner(folder)
    port = _free_port()
    cluster = folder / "cluster"
    try:
        initdb = bin_folder / "initdb"
        _run(user, initdb, "-D", cluster, "-U", "teacher", "-A", "trust", "-E", "UTF8", "--no-sync")
        options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder}"
        options += " -c fsync=off -c full_page_writes=off"  # tests don't pull the plug
        control = bin_folder / "pg_ctl", "-D", cluster, "-w"
        _run(user, *control, "-o", options, "-l", folder / "log", "start")
        try:
            address = f"postgresql://teacher@127.0.0.1:{port}"
            new_database(address, name="model")
            yield address
        finally:
            _run(user, *control, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def new_database(server: str, *, template: str = "template1", name: str = "") -> str:
    """Make a database on a server and give its address."""
    fresh = name or f"quayside_{next(_NUMBERS)}"
    _order(server, f"CREATE DATABASE {fresh} TEMPLATE {template}")
    return f"{server}/{fresh}"


def drop_database(address: str) -> None:
    """Remove a database with whoever still looks at it."""
    server, name = address.rsplit("/", 1)
    _order(server, f"DROP DATABASE {name} WITH (FORCE)")


def _order(server: str, order: str) -> None:
    address = server.replace("://", "+pg8000://") + "/postgres"
    engine = create_engine(address, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(order))
    engine.dispose()


def _owner(folder: Path) -> str | None:
    """The server refuses to run as root: its folder then goes to another user."""
    if os.geteuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    user = "postgres" if "postgres" in names else "nobody"
    shutil.chown(folder, user)
    return user


def _run(user: str | None, *command: object) -> None:
    words = [str(word) for word in command]
    prefix = ["runuser", "-u", user, "--"] if user else []
    subprocess.run(
        [*prefix, *words],
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        timeout=60,
        cwd="/",
    )


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port


def everything(student: Student, tune: Tune) -> tuple[Record, ...]:
    """One record of each kind that hangs on a kept student and tune; takes and hearings aside."""
    recipe = {"chart": "abc", "family": "root-up", "level": 1, "key": "F", "seed": 7}
    return (
        Consent(student.id, "recording", "the mother", date(2026, 3, 1)),
        Phrase("Up to the ninth", {"notes": ["C4", "E4"]}, student=student.id),
        Exercise(student.id, "root-up/L1", recipe, {"bars": []}, {"bpm": 84.0}, DAY, tune=tune.id),
        LessonNote(student.id, DAY, "Lost the form in bar 9; count aloud."),
        KeptPlan(student.id, "week", date(2026, 3, 6), NOW, {"days": []}),
        TeacherMark(student.id, "root-up", "blues", 1, "solid", NOW, key="F", words="by ear"),
    )
