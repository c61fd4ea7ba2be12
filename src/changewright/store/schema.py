"""The tables, one a kind of record, and the journal by which edits are undone."""

from datetime import UTC, date, datetime
from typing import Any, TypeVar

from sqlalchemy import (
    JSON,
    Column,
    Date,
    DateTime,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
)
from sqlalchemy.engine import Dialect

from changewright.store.records import (
    Access,
    Consent,
    Correction,
    Exercise,
    Heard,
    KeptPlan,
    LessonNote,
    Phrase,
    Record,
    Student,
    Take,
    TeacherMark,
    Tune,
)

__all__ = ["JOURNAL", "METADATA", "TABLES", "Row", "plain_row", "record_of", "row_of", "typed_row"]

Row = dict[str, Any]
R = TypeVar("R", bound=Record)

METADATA = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)


class Moment(TypeDecorator[datetime]):
    """A moment in UTC. PITFALL: SQLite keeps no zone, so it is given back on reading."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002, the framework's signature
        """Store UTC."""
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Read UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _id() -> Column[str]:
    return Column("id", String(32), primary_key=True)


def _to(table: str, *, name: str = "", null: bool = False) -> Column[str]:
    return Column(
        name or table.removesuffix("s"),
        String(32),
        ForeignKey(f"{table}.id"),
        nullable=null,
        index=True,
    )


def _words(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _number(name: str, *, null: bool = False) -> Column[int]:
    return Column(name, Integer, nullable=null)


def _day(name: str, *, null: bool = False) -> Column[date]:
    return Column(name, Date, nullable=null)


def _moment(name: str) -> Column[datetime]:
    return Column(name, Moment, nullable=False)


def _json(name: str) -> Column[Any]:
    return Column(name, JSON, nullable=False)


TABLES: dict[type[Any], Table] = {
    Tune: Table(
        "tunes",
        METADATA,
        _id(),
        _words("title"),
        _words("key"),
        _words("chart"),
        _words("rights"),
    ),
    Student: Table(
        "students",
        METADATA,
        _id(),
        Column("nickname", Text, nullable=False, unique=True),
        _words("instrument"),
        _number("level"),
        _words("age_band"),
        _words("goals"),
        _words("constraints"),
        _number("minutes"),
        _json("days"),
        _number("lesson_day"),
        _words("home_key"),
        _words("range_low"),
        _words("range_high"),
        _number("reading"),
        _to("tunes", null=True),
        _day("concert", null=True),
        _day("ended", null=True),
    ),
    Consent: Table(
        "consents",
        METADATA,
        _id(),
        _to("students"),
        _words("what"),
        _words("given_by"),
        _day("given"),
        _day("withdrawn", null=True),
    ),
    Phrase: Table(
        "phrases",
        METADATA,
        _id(),
        _words("title"),
        _json("notes"),
        _words("rights"),
        _to("students", null=True),
    ),
    Exercise: Table(
        "exercises",
        METADATA,
        _id(),
        _to("students"),
        _words("label"),
        _json("recipe"),
        _json("sheet"),
        _json("clock"),
        _day("given"),
        _to("tunes", null=True),
    ),
    Take: Table(
        "takes",
        METADATA,
        _id(),
        _to("students"),
        _moment("received"),
        _words("media"),
        _to("exercises", null=True),
        Column("blob", String(64), nullable=True, index=True),
        _day("expires", null=True),
        _words("my_ears"),
        Column("lesson", Text, nullable=False, server_default=""),
    ),
    Heard: Table(
        "hearings",
        METADATA,
        _id(),
        _to("takes"),
        _moment("at"),
        _json("hearing"),
        _json("evidence"),
    ),
    Correction: Table(
        "corrections",
        METADATA,
        _id(),
        _to("takes"),
        _moment("at"),
        _json("bars"),
        _words("words"),
    ),
    Access: Table(
        "accesses",
        METADATA,
        _id(),
        _to("takes"),
        _moment("at"),
        _words("who"),
        _words("what"),
    ),
    LessonNote: Table(
        "lesson_notes",
        METADATA,
        _id(),
        _to("students"),
        _day("on"),
        _words("text"),
        _words("kind"),
    ),
    KeptPlan: Table(
        "plans",
        METADATA,
        _id(),
        _to("students", null=True),
        _words("kind"),
        _day("starts"),
        _moment("made"),
        _json("plan"),
    ),
    TeacherMark: Table(
        "teacher_marks",
        METADATA,
        _id(),
        _to("students"),
        _words("family"),
        _words("progression"),
        _number("level"),
        _words("standing"),
        _moment("at"),
        Column("key", Text, nullable=True),
        _number("tempo_bpm", null=True),
        _words("words"),
    ),
}
"""The table of each kind, in the order in which rows can be put in."""

JOURNAL = Table(
    "journal",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("session", Text, nullable=False),
    _moment("at"),
    _words("action"),
    _json("steps"),
)
"""Every edit with the rows before and after; what is undone or settled leaves it."""

_TUPLES = {"days", "evidence"}


def row_of(record: Record) -> Row:
    """A record as a row."""
    table = TABLES[type(record)]
    found = {c.name: getattr(record, c.name) for c in table.columns}
    return {n: list(v) if isinstance(v, tuple) else v for n, v in found.items()}


def record_of(kind: type[R], row: Row) -> R:
    """A row as a record."""
    fields: dict[str, Any] = {n: tuple(v) if n in _TUPLES else v for n, v in row.items()}
    make: Any = kind
    made: R = make(**fields)
    return made


def plain_row(row: Row) -> Row:
    """A row for JSON: days and moments as ISO texts."""
    return {n: v.isoformat() if isinstance(v, date) else v for n, v in row.items()}


def typed_row(table: Table, row: Row) -> Row:
    """A row from JSON, by the table's types; raises ``ValueError`` or ``KeyError`` where it is
    not such a row."""
    if set(row) != {c.name for c in table.columns}:
        raise ValueError(f"not a row of {table.name}: {sorted(row)}")
    return {c.name: _typed(c, row[c.name]) for c in table.columns}


def _typed(column: Column[Any], value: Any) -> Any:
    if value is None:
        if not column.nullable:
            raise ValueError(f"{column.name} is missing")
        return None
    if isinstance(column.type, Moment):
        return datetime.fromisoformat(value)
    if isinstance(column.type, Date):
        return date.fromisoformat(value)
    wanted = {String: str, Text: str, Integer: int}.get(type(column.type))
    if wanted and type(value) is not wanted:
        raise ValueError(f"{column.name} can't be {value!r}")
    return value
