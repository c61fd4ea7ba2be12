"""Links for students: each opens one player's lessons, for a while, until it is taken back.

A link holds 128 random bits and is kept as a hash alone, so that who reads the folder can't use it.
Source: NIST SP 800-63B-4 on session secrets asks for at least 64 bits.
"""

import json
import re
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from secrets import token_urlsafe

from starlette.types import Scope

from changewright.errors import NotKept
from changewright.studio.folder import Folder
from changewright.studio.shapes import PLAYER

__all__ = ["GUEST", "VALID_S", "Guests", "guest_of", "is_guest"]

GUEST = "stand"
"""The cookie that a link is swapped for."""

VALID_S = 90 * 24 * 3600.0
"""How long a link opens its player's lessons: about a term. Source: our own choice."""

_BYTES = 16
_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")
_STAND = re.compile(r"/lessons/([0-9a-f]{16})/(?:[0-9]{1,4}(?:/.*)?|consent|state)")
_OPEN = re.compile(r"/mine|/exercise/.+")
_MARK = "changewright.guest"


def is_guest(scope: Scope) -> bool:
    """Whether a request came in by a student's link."""
    return bool(scope.get(_MARK))


def guest_of(scope: Scope) -> str:
    """The id of the player whose link a request came in by; empty for the teacher."""
    return str(scope.get(_MARK, ""))


@dataclass(frozen=True, slots=True)
class Guests:
    """The invitations of a studio's folder; ``now`` gives seconds since the epoch."""

    root: Path
    now: Callable[[], float] = time.time

    def invite(self, player: str) -> str:
        """A new link's token for a player; it can't be read again."""
        token = token_urlsafe(_BYTES)
        path = self._path(token)
        path.parent.mkdir(parents=True, exist_ok=True)
        told = {"player": player, "until": self.now() + VALID_S}
        path.write_text(json.dumps(told), encoding="utf-8")
        return token

    def revoke(self, player: str) -> int:
        """Take back all links of a player; returns how many there were."""
        found = [path for path, to, _ in self._all() if to == player]
        for path in found:
            path.unlink(missing_ok=True)
        return len(found)

    def count(self, player: str) -> int:
        """How many links open a player's lessons now."""
        return sum(to == player and until > self.now() for _, to, until in self._all())

    def player_of(self, token: str) -> str | None:
        """Whose lessons a link opens; None for one that is unknown, taken back or too old."""
        if not _TOKEN.fullmatch(token):
            return None
        try:
            told = json.loads(self._path(token).read_text("utf-8"))
        except FileNotFoundError:
            return None
        open_still = told["until"] > self.now() and PLAYER.fullmatch(told["player"])
        return str(told["player"]) if open_still else None

    def admits(self, scope: Scope, token: str) -> bool:
        """Whether a link opens what is asked for: its player's own Stands, and nothing else."""
        asked, player = _STAND.fullmatch(scope["path"]), self.player_of(token)
        if player is None or not (asked or _OPEN.fullmatch(scope["path"])):
            return False
        if asked and self._whose(asked[1]) != player:
            return False
        scope[_MARK] = player
        return True

    def _whose(self, lesson_id: str) -> str | None:
        try:
            return Folder(self.root).asked(lesson_id).player
        except NotKept:
            return None

    def _path(self, token: str) -> Path:
        return self.root / "invitations" / f"{sha256(token.encode()).hexdigest()}.json"

    def _all(self) -> Iterator[tuple[Path, str, float]]:
        for path in sorted((self.root / "invitations").glob("*.json")):
            told = json.loads(path.read_text("utf-8"))
            yield path, told["player"], told["until"]
