"""The teacher's password and the sessions it opens, for a studio that listens to other machines."""

import time
from collections import deque
from collections.abc import Callable
from hashlib import sha256
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from secrets import token_urlsafe

from starlette.datastructures import Headers
from starlette.types import Scope

from changewright.errors import InputError
from changewright.studio.guests import GUEST, Guests

__all__ = ["COOKIE", "Door", "Throttle", "Throttles", "set_password"]

COOKIE = "studio"
SHORTEST = 12
"""The shortest password. Source: NIST SP 800-63B-4 asks for 15 where it stands alone, 8 with
another factor; 12 with the throttle below is our own choice."""

_FILE = "password"
_SESSION_S = 12 * 3600.0
_TRIES, _WITHIN_S = 5, 60.0
_GUESSES = 60  # of links that open nothing; a class that scans an old code is fewer
_OPEN = ("/login", "/static/", "/fonts/", "/join/")


def set_password(folder: Path, password: str) -> None:
    """Keep a password's argon2 hash; raises :class:`InputError` for one that is too short."""
    from argon2 import PasswordHasher

    if len(password) < SHORTEST:
        raise InputError(
            f"a password of {len(password)} characters is too short",
            remedy=f"Use {SHORTEST} or more; a few words in a row are easy to keep in mind.",
        )
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / _FILE
    path.touch(mode=0o600)
    path.write_text(PasswordHasher().hash(password) + "\n", encoding="utf-8")


class Throttle:
    """A few tries in a while, and then none: ``tries`` within ``within_s`` seconds."""

    def __init__(
        self,
        tries: int = _TRIES,
        within_s: float = _WITHIN_S,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        self.tries, self._within_s, self._now = tries, within_s, now
        self._at: deque[float] = deque()

    def allows(self) -> bool:
        """Count a try and tell whether it may be made."""
        now = self._now()
        while self._at and self._at[0] <= now - self._within_s:
            self._at.popleft()
        if len(self._at) >= self.tries:
            return False
        self._at.append(now)
        return True


class Throttles:
    """A throttle for each of many senders; those who have been silent longest are forgotten."""

    def __init__(self, tries: int, within_s: float, most: int = 2000) -> None:
        self._tries, self._within_s, self._most = tries, within_s, most
        self._of: dict[str, Throttle] = {}

    def allows(self, sender: str) -> bool:
        """Count a try of a sender's and tell whether it may be made."""
        throttle = self._of.pop(sender, None) or Throttle(self._tries, self._within_s)
        self._of[sender] = throttle
        if len(self._of) > self._most:
            del self._of[next(iter(self._of))]
        return throttle.allows()


class Door:
    """Checks the password and remembers who came in; sessions are held in memory by their hash."""

    def __init__(self, folder: Path, now: Callable[[], float] = time.monotonic) -> None:
        path = folder / _FILE
        if not path.is_file():
            raise InputError(
                "a studio that other machines can reach needs a password",
                remedy="Set one with 'changewright studio --set-password'.",
            )
        self._hash = path.read_text("utf-8").strip()
        self._now = now
        self._until: dict[str, float] = {}
        self.throttle = Throttle(now=now)
        self.guessing = Throttle(_GUESSES, _WITHIN_S, now=now)
        self.guests = Guests(folder)

    def opens(self, password: str) -> str | None:
        """A new session's token for the right password, None for a wrong one."""
        from argon2 import PasswordHasher
        from argon2.exceptions import Argon2Error, InvalidHashError

        try:
            PasswordHasher().verify(self._hash, password)
        except (Argon2Error, InvalidHashError):
            return None
        token = token_urlsafe(24)
        now = self._now()
        self._until = {d: until for d, until in self._until.items() if until > now}
        self._until[_digest(token)] = now + _SESSION_S
        return token

    def closes(self, token: str) -> None:
        """End a session."""
        self._until.pop(_digest(token), None)

    def admits(self, scope: Scope) -> bool:
        """Whether a request comes from somebody who logged in, from a student to the Stand that
        his link opens, or asks for the door itself."""
        path = scope["path"]
        if any(path == p or (p.endswith("/") and path.startswith(p)) for p in _OPEN):
            return True
        if self._until.get(_digest(_cookie(scope, COOKIE)), 0.0) > self._now():
            return True
        return self.guests.admits(scope, _cookie(scope, GUEST))


def _cookie(scope: Scope, name: str) -> str:
    cookies: SimpleCookie = SimpleCookie()
    try:
        cookies.load(Headers(scope=scope).get("cookie", ""))
    except CookieError:
        return ""
    return cookies[name].value if name in cookies else ""


def _digest(token: str) -> str:
    return sha256(token.encode()).hexdigest()
