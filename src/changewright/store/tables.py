"""How the tables hang together."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Column, Connection, Table, select

from changewright.store.schema import METADATA, TABLES, Row

__all__ = ["dependants", "holder_words", "loosened", "table_named"]

_WORDS = {"students": "player", "accesses": "access"}
_STRONG = "student", "take"  # what refers by these goes along; the rest only lets go


def table_named(name: str) -> Table:
    """A table by its name."""
    return METADATA.tables[name]


def holder_words(table: Table) -> str:
    """What a row of a table is, in a word: ``player``, ``lesson note``."""
    return _WORDS.get(table.name, table.name.removesuffix("s").replace("_", " "))


def dependants(connection: Connection, table: Table, record_id: str) -> list[tuple[Table, Row]]:
    """A row and all rows that go with it, directly or through others, each after what it
    refers to."""
    found: dict[tuple[str, str], tuple[Table, Row]] = {}
    _gather(connection, table, table.c.id == record_id, found)
    order = [t.name for t in TABLES.values()]
    return sorted(found.values(), key=lambda pair: order.index(pair[0].name))


def loosened(connection: Connection, gone: list[tuple[Table, Row]]) -> list[tuple[Table, Row, Row]]:
    """The rows that stay but refer to rows that go, before and after letting go of them."""
    going = {(table.name, row["id"]) for table, row in gone}
    found: dict[tuple[str, str], tuple[Table, Row, Row]] = {}
    for table, row in gone:
        for other, column in _referring(table):
            for kept in connection.execute(select(other).where(column == row["id"])).mappings():
                place = other.name, kept["id"]
                if place not in going:
                    _, before, after = found.get(place, (other, dict(kept), dict(kept)))
                    found[place] = other, before, after | {column.name: None}
    return list(found.values())


def _gather(
    connection: Connection,
    table: Table,
    where: Any,
    found: dict[tuple[str, str], tuple[Table, Row]],
) -> None:
    for row in connection.execute(select(table).where(where)).mappings().all():
        if (table.name, row["id"]) in found:
            continue
        found[table.name, row["id"]] = table, dict(row)
        for other, column in _referring(table):
            if column.name in _STRONG:
                _gather(connection, other, column == row["id"], found)


def _referring(table: Table) -> Iterator[tuple[Table, Column[Any]]]:
    for other in TABLES.values():
        for column in other.columns:
            if any(key.column.table is table for key in column.foreign_keys):
                yield other, column
