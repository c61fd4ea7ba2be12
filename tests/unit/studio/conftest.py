"""A studio over an empty folder, with one player, whose works are done at once."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.unit.studio.manners import LESSON, SAME, Made, app_over


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with TestClient(app_over(tmp_path), base_url=AT, follow_redirects=False) as one:
        yield one


@pytest.fixture(scope="session")
def with_lesson(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """A lesson that many tests share; none of them may change it."""
    root = tmp_path_factory.mktemp("studio")
    with TestClient(app_over(root), base_url=AT, follow_redirects=False) as one:
        yield made(one, root)


@pytest.fixture
def fresh(with_lesson: Made, tmp_path: Path) -> Iterator[Made]:
    """A lesson of one's own, to which nobody has agreed to be recorded."""
    for part in ("lessons", "requests"):
        shutil.copytree(with_lesson.root / part, tmp_path / part)
    with TestClient(app_over(tmp_path), base_url=AT, follow_redirects=False) as one:
        yield Made(one, with_lesson.at, tmp_path)


def made(client: TestClient, root: Path) -> Made:
    answer = client.post("/lessons", data=LESSON, headers=SAME)
    assert answer.status_code == 303, answer.text
    return Made(client, answer.headers["location"], root)


AT = "http://127.0.0.1"
