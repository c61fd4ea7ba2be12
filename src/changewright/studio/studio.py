"""What all pages share: the folder, the ear, and the door."""

from dataclasses import dataclass

from starlette.requests import Request

from changewright.studio.door import Door
from changewright.studio.folder import Folder
from changewright.studio.listener import Listener

__all__ = ["Studio", "studio_of"]


@dataclass(frozen=True, slots=True)
class Studio:
    """A studio at work; ``door`` is None where only this machine can come in."""

    folder: Folder
    listener: Listener
    door: Door | None = None


def studio_of(request: Request) -> Studio:
    """The studio that a request came to."""
    found: Studio = request.app.state.studio
    return found
