"""What all verbs of the roster share: where it lies, the day it is, and how a player is shown."""

from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from changewright.errors import InputError, UnknownName
from changewright.music.document import Document

if TYPE_CHECKING:
    from changewright.page import Paper
    from changewright.store.records import Student
    from changewright.store.store import Store

__all__ = [
    "AsJson",
    "Database",
    "Home",
    "On",
    "Who",
    "day",
    "opened",
    "paper_named",
    "player_document",
]

Home = Annotated[
    Path,
    typer.Option(
        "--home",
        envvar="CHANGEWRIGHT_HOME",
        help="The folder of the roster.",
        show_default="~/.local/share/changewright",
    ),
]
Database = Annotated[
    str | None,
    typer.Option(
        "--database",
        envvar="CHANGEWRIGHT_DATABASE",
        help="A PostgreSQL address; a file in the home folder if none.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON.")]
On = Annotated[str | None, typer.Option("--on", help="A day as 2026-03-05; today if none.")]
Who = Annotated[str, typer.Argument(help="A player by nickname.")]
HOME = Path("~/.local/share/changewright")


def opened(home: Path, database: str | None) -> "Store":
    """Open the roster of a home folder."""
    from changewright.usecases.roster import roster

    return roster(home.expanduser(), lambda: datetime.now(UTC), database=database)


def day(text: str | None) -> date:
    """A day from its ISO form, today where none is given."""
    if text is None:
        return datetime.now(UTC).astimezone().date()
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise InputError(
            f"can't read the day {text!r}", remedy="Write it as 2026-03-05."
        ) from fault


def paper_named(name: str) -> "Paper":
    """A paper by name; raises :class:`UnknownName`."""
    from changewright.page import PAPERS

    for paper in PAPERS:
        if paper == name.lower():
            return paper
    raise UnknownName("paper", name, PAPERS)


def player_document(student: "Student") -> Document:
    """A player as plain values."""
    from changewright.store.schema import plain_row, row_of

    return plain_row(row_of(student))
