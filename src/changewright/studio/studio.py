"""What all pages share: the folder, the ear, and the door."""

from dataclasses import dataclass, field

from starlette.requests import Request

from changewright.studio.door import Door, Throttle
from changewright.studio.folder import Folder
from changewright.studio.listener import Listener

__all__ = ["TAKES_A_MINUTE", "Studio", "studio_of"]

TAKES_A_MINUTE = 60
"""How many takes are taken in a minute: more than a class sends, fewer than would fill a disk."""


@dataclass(frozen=True, slots=True)
class Studio:
    """A studio at work; ``door`` is None where only this machine can come in, ``takes`` counts the
    recordings that come in."""

    folder: Folder
    listener: Listener
    door: Door | None = None
    takes: Throttle = field(default_factory=lambda: Throttle(TAKES_A_MINUTE, 60.0))


def studio_of(request: Request) -> Studio:
    """The studio that a request came to."""
    found: Studio = request.app.state.studio
    return found
