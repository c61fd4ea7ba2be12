from collections.abc import Iterator
from pathlib import Path

import pytest

from changewright.store.store import Store, open_store
from tests.stores import Calendar, drop_database, new_database, postgresql_server


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    with postgresql_server() as address:
        with open_store(Path("/nonexistent"), now=Calendar(), database=address + "/model"):
            pass
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest) -> Iterator[str | None]:
    """A fresh database: None is a file in the home folder."""
    if request.param == "sqlite":
        yield None
        return
    fresh = new_database(request.getfixturevalue("server"), template="model")
    yield fresh
    drop_database(fresh)


@pytest.fixture
def calendar() -> Calendar:
    return Calendar()


@pytest.fixture
def store(database: str | None, tmp_path: Path, calendar: Calendar) -> Iterator[Store]:
    with open_store(tmp_path / "home", now=calendar, database=database) as opened:
        yield opened
