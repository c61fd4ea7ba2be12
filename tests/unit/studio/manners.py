"""What the studio's tests share: a browser's manners, a lesson to ask for, an ear for MIDI."""

from pathlib import Path
from typing import Any, NamedTuple

from starlette.testclient import TestClient

from changewright.ear.document import hearing_document
from changewright.ear.judge import judge
from changewright.ear.midi import load_midi
from changewright.errors import TakeError
from changewright.studio.listener import Listener
from changewright.usecases.lesson_folder import load_assignment

__all__ = ["LESSON", "SAME", "EarForMidi", "Made"]

SAME = {"sec-fetch-site": "same-origin"}
"""What a browser says of a form of the page's own."""

LESSON = {
    "chart": "quayside-blues@0",
    "instrument": "tenor saxophone",
    "level": "1",
    "key": "",
    "seed": "7",
    "student": "Tenor saxophone, Thursday",
    "family": "root-up",
}


class EarForMidi(Listener):
    """Judges MIDI in this process and refuses sound, so that a test needs no engines."""

    def warm(self) -> None:
        """Nothing to warm."""

    def hear(self, take: Path, lesson: Path, exercise: int) -> dict[str, Any]:
        """The real verdict on a take in MIDI."""
        if take.suffix != ".mid":
            raise TakeError("this is not a recording that can be read")
        asked = load_assignment(lesson, exercise)
        return hearing_document(judge(asked.sheet, load_midi(take), asked.clock))


class Made(NamedTuple):
    """A client, the address of a lesson made through the Desk's form, and the folder it is in."""

    client: TestClient
    at: str
    root: Path

    @property
    def lesson(self) -> Path:
        """The lesson's own folder."""
        return self.root / self.at.lstrip("/")
