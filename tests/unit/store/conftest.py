from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from changewright.store.store import Store, open_store
from tests.stores import Calendar, postgresql_server


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    with postgresql_server() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest) -> str | None:
    """A fresh database: None is a file in the home folder."""
    if request.param == "sqlite":
        return None
    address: str = request.getfixturevalue("server")
    admin = create_engine(address.replace("://", "+pg8000://"), isolation_level="AUTOCOMMIT")
    name = f"quayside_{abs(hash(request.node.nodeid)) % 10**12}"
    with admin.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    admin.dispose()
    return address.rsplit("/", 1)[0] + f"/{name}"


@pytest.fixture
def calendar() -> Calendar:
    return Calendar()


@pytest.fixture
def store(database: str | None, tmp_path: Path, calendar: Calendar) -> Iterator[Store]:
    with open_store(tmp_path / "home", now=calendar, database=database) as opened:
        yield opened
