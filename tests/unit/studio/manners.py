"""What the studio's tests share: a browser's manners, a player, a lesson to ask for."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

from starlette.testclient import TestClient

from changewright.store.records import Student
from changewright.store.store import Store
from changewright.studio.app import make_app
from changewright.studio.guard import Guard
from changewright.studio.hands import at_once
from changewright.studio.studio import Studio
from changewright.usecases.roster import roster

__all__ = ["LESSON", "SAME", "TENOR", "Made", "app_over", "store_of"]

SAME = {"sec-fetch-site": "same-origin"}
"""What a browser says of a form of the page's own."""

TENOR = Student("Tenor saxophone, Thursday", "tenor saxophone", home_key="F", id="00c0ffee00c0ffee")
"""The player who is on the roster of every test's studio."""

LESSON = {
    "chart": "quayside-blues@0",
    "instrument": "tenor saxophone",
    "level": "1",
    "key": "",
    "seed": "7",
    "player": TENOR.id,
    "family": "root-up",
}


def store_of(folder: Path) -> Store:
    """The roster of a studio's folder, with the tenor player on it."""
    store = roster(folder, lambda: datetime.now(UTC), session="studio")
    if not store.all(Student, id=TENOR.id):
        store.add(TENOR)
    return store


def app_over(folder: Path, **told: Any) -> Guard:
    """A studio over a folder, whose works are done at once and in this process."""
    return make_app(folder, store=store_of(folder), hands=at_once(), **told)


class Made(NamedTuple):
    """A client, the address of a lesson made through the Desk's form, and the folder it is in."""

    client: TestClient
    at: str
    root: Path

    @property
    def lesson(self) -> Path:
        """The lesson's own folder."""
        return self.root / self.at.lstrip("/")

    @property
    def studio(self) -> Studio:
        """The studio at work."""
        found: Studio = self.client.app._app.state.studio  # type: ignore[attr-defined]
        return found

    @property
    def store(self) -> Store:
        """The roster that the studio writes to."""
        return self.studio.store
