"""The description says what the studio answers to, and nothing that it doesn't."""

from starlette.routing import Route
from starlette.testclient import TestClient

from changewright.studio import description


def test_every_address_is_described(client: TestClient) -> None:
    told = client.get("/openapi.json").json()
    routes = [r for r in client.app._app.routes if isinstance(r, Route)]  # type: ignore[attr-defined]
    described = {(path, m.upper()) for path, of in told["paths"].items() for m in of}
    assert len(described) == len(
        {(r.path, m) for r in routes for m in r.methods or ()} - {(r.path, "HEAD") for r in routes}
    )
    assert ("/lessons/{lesson}/{exercise}/takes", "POST") in described


def test_no_form_is_described_that_nobody_takes(client: TestClient) -> None:
    told = client.get("/openapi.json").json()
    posts = {path for path, of in told["paths"].items() if {"post", "put"} & set(of)}
    for table in (description._FORMS, description._FILES, description._BODIES):
        assert set(table) <= posts
    assert set(description._QUERIES) <= set(told["paths"])
