"""The studio's HTTP surface fuzzed from its own description: whatever is sent, it answers on
purpose, with its policy, and tells nothing of this machine."""

import shutil
from collections.abc import Iterator
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from changewright.jobs.turns import Turns
from changewright.store.records import Consent
from changewright.studio.bookcase import Bookcase
from changewright.studio.folder import Folder
from changewright.studio.hands import at_once
from tests.unit.studio.conftest import made
from tests.unit.studio.manners import LESSON, SAME, TENOR, app_over, store_of
from tests.unit.studio.test_books import BOOK
from tests.unit.studio.test_scanned import MADE_ELSEWHERE, label_of

schemathesis = pytest.importorskip("schemathesis")
pytestmark = pytest.mark.slow

EXAMPLES = 12
ORIGIN = "http://127.0.0.1"
SLOW_QUERIES = {"tempo", "in"}
"""A tempo or key that nobody has asked for is composed and sounded anew: tried elsewhere."""


class NeverMade(Turns):
    """A maker who takes every wish and makes none, so that fuzzing costs no composing."""

    def ask(self, name: str, work: object) -> Future[Any]:
        """Take the wish."""
        return Future()


@pytest.fixture(scope="module")
def surface(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The description of a studio with a player, a lesson, a take and a book, their names among
    what may stand in addresses."""
    from starlette.testclient import TestClient

    from changewright.studio.app import make_app

    root = tmp_path_factory.mktemp("fuzzed")
    with TestClient(app_over(root), base_url=ORIGIN, follow_redirects=False) as first:
        lesson = made(first, root).at.rpartition("/")[2]
    store = store_of(root)
    store.add(Consent(TENOR.id, "recording", "the player", TENOR.concert or store.now().date()))
    book = Bookcase(Folder(root)).keep(BOOK)
    app = make_app(root, store=store, hands=replace(at_once(), maker=NeverMade()))
    with TestClient(app, base_url=ORIGIN, raise_server_exceptions=False) as client:
        key = "c0ffee00" * 4
        client.post(f"/lessons/{lesson}/1/takes?key={key}", content=b"RIFF", headers=SAME)
        told = client.get("/openapi.json").json()
        known = {"lesson": lesson, "player": TENOR.id, "key": key, "name": LESSON["chart"][:-2]}
        known |= {"book": book, "edition": "b-flat", "label": label_of(MADE_ELSEWHERE)}
        for path in told["paths"].values():
            for operation in path.values():
                operation["parameters"] = [
                    _with_known(one, known)
                    for one in operation["parameters"]
                    if one["name"] not in SLOW_QUERIES
                ]
        schema = schemathesis.openapi.from_dict(told)
        schema.app = app
        yield schema
    shutil.rmtree(root, ignore_errors=True)


def _with_known(parameter: dict[str, Any], known: dict[str, str]) -> dict[str, Any]:
    real = known.get(parameter["name"])
    if real is None or parameter["in"] != "path":
        return parameter
    return {**parameter, "schema": {"anyOf": [{"enum": [real]}, parameter["schema"]]}}


def test_whatever_is_sent_is_answered_on_purpose(surface: Any) -> None:
    found = list(surface.get_all_operations())
    assert len(found) > 65
    for one in found:
        _fuzz(one.ok())


def _fuzz(operation: Any) -> None:
    answers = {int(code) for code in operation.definition.raw["responses"]}

    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        deadline=None,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy())
    def sent(case: Any) -> None:
        headers = {**SAME, "host": "127.0.0.1"}
        answer = case.call(base_url=ORIGIN, headers=headers, allow_redirects=False)
        assert answer.status_code < 500, answer.text[:2000]
        assert answer.status_code in answers
        assert "script-src 'self'" in answer.headers["content-security-policy"][0]
        for secret in ("Traceback", "/tmp/", str(Path.home())):
            assert secret not in answer.text[:100_000]

    sent()
