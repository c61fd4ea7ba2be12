"""A studio over an empty folder, with an ear that costs nothing."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from changewright.studio.app import make_app
from tests.unit.studio.manners import LESSON, SAME, EarForMidi, Made


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = make_app(tmp_path, listener=EarForMidi())
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as one:
        yield one


@pytest.fixture(scope="session")
def with_lesson(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """A lesson that many tests share; none of them may change it."""
    root = tmp_path_factory.mktemp("studio")
    app = make_app(root, listener=EarForMidi())
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as one:
        yield made(one, root)


@pytest.fixture
def fresh(with_lesson: Made, client: TestClient, tmp_path: Path) -> Made:
    """A lesson of one's own, to which nobody has agreed to be recorded."""
    for part in ("lessons", "requests"):
        shutil.copytree(with_lesson.root / part, tmp_path / part)
    return Made(client, with_lesson.at, tmp_path)


def made(client: TestClient, root: Path) -> Made:
    answer = client.post("/lessons", data=LESSON, headers=SAME)
    assert answer.status_code == 303, answer.text
    return Made(client, answer.headers["location"], root)
