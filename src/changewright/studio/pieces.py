"""A take that comes in pieces while it is played, put together when the player stops.

The pieces are numbered from 0 and are bare 16-bit samples of one channel, little-endian, a second
each but for the last. What got lost on the way, or with this machine, is asked for again: the
player's browser keeps every piece until the take was heard.
"""

import json
import shutil
import time
import wave
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from secrets import token_hex
from typing import Any

from changewright.errors import TakeError
from changewright.studio.door import Throttle

__all__ = ["KEPT_S", "MOST_PIECES", "MOST_PIECE_BYTES", "Pieces", "Telling", "clock_words"]

MOST_PIECES = 390
"""The longest take in pieces, in seconds: what fits in the largest request at 48 kHz."""

RATES = (8_000, 96_000)
MOST_PIECE_BYTES = 2 * RATES[1]

KEPT_S = 2 * 24 * 3600.0
"""How long the pieces of a take that never became whole are kept."""

_ANCHORS = ("count-in", "calibration", "none")
_NEW_A_MINUTE = 120


@dataclass(frozen=True, slots=True)
class Telling:
    """What a recorder knows of its take: how many pieces at which rate; how many frames to ``skip``
    so that the rest lies on the band's clock, and what told so; by how many seconds the clocks
    ``slipped`` between the count-in and the end, None where that could not be heard; how many
    frames were ``lost``; the tempo and key that were played, None for those of the lesson."""

    pieces: int
    rate: int
    skip: int
    anchor: str
    slip_s: float | None
    lost: int
    tempo: int | None
    key: str | None

    @staticmethod
    def read(body: bytes) -> "Telling":
        """Read what the browser sends; raises :class:`TakeError`."""
        try:
            told = json.loads(body[:10_000])
            rate = _whole(told["rate"], *RATES)
            return Telling(
                pieces=_whole(told["pieces"], 1, MOST_PIECES),
                rate=rate,
                skip=_whole(told["skip"], 0, 2 * rate),
                anchor=_one_of(told["anchor"], _ANCHORS),
                slip_s=_slip(told["slip_s"]),
                lost=_whole(told["lost"], 0, 2**31),
                tempo=None if told["tempo"] is None else _whole(told["tempo"], 20, 400),
                key=None if told["key"] is None else str(told["key"])[:20],
            )
        except (ValueError, KeyError, TypeError, RecursionError) as fault:
            raise TakeError(
                "a take came without what must be known of it", remedy="Open the Stand again."
            ) from fault


def _whole(value: Any, low: int, high: int) -> int:
    if type(value) is not int or not low <= value <= high:
        raise ValueError(f"{value!r} is no whole number from {low} to {high}")
    return value


def _one_of(value: Any, known: tuple[str, ...]) -> str:
    if value not in known:
        raise ValueError(f"{value!r} is none of {known}")
    return str(value)


def _slip(value: Any) -> float | None:
    if value is None:
        return None
    if type(value) not in (int, float) or not abs(value) < 10:
        raise ValueError(f"{value!r} is no slip of a clock")
    return float(value)


def clock_words(recorder: Mapping[str, Any] | None) -> str:
    """What a player should know of the clocks of a take, from its telling as a document; nothing
    where all was well, or where no recorder told of it."""
    if recorder is None:
        return ""
    if recorder["slip_s"]:
        slip_ms = abs(1000 * recorder["slip_s"])
        return (
            f"The sound of this device slipped by {slip_ms:.0f} ms during the take: "
            "early and late are not told finer than that."
        )
    if recorder["anchor"] == "none":
        return (
            "How late this device hears itself is not known: early and late are told beside your "
            "own usual place. Measuring the device once helps."
        )
    return ""


@dataclass(frozen=True, slots=True)
class Pieces:
    """The takes that are coming in, in a folder of their own: ``coming/<take>/0007.pcm``.

    ``now`` gives seconds since the epoch.
    """

    root: Path
    now: Callable[[], float] = time.time
    new: Throttle = field(default_factory=lambda: Throttle(_NEW_A_MINUTE, 60.0))

    def put(self, take: str, number: int, sound: bytes) -> Path:
        """Keep a piece; the same number again keeps the latest. Returns where it lies.

        Raises :class:`TakeError` for what is no piece, and where more takes begin than are played.
        """
        if not 0 <= number < MOST_PIECES:
            raise TakeError("the take is too long", remedy="Record one chorus.")
        if not sound or len(sound) % 2 or len(sound) > MOST_PIECE_BYTES:
            raise TakeError("a piece of a take is broken", remedy="Open the Stand again.")
        at = self.at(take)
        if not at.is_dir():
            if not self.new.allows():
                raise TakeError("more takes begin than can be heard", remedy="Wait a minute.")
            self._forget_old()
            at.mkdir(parents=True, exist_ok=True)
        path = at / f"{number:04}.pcm"
        # PITFALL: a browser that sends a piece twice may do so at the same moment.
        making = path.with_suffix(f".{token_hex(4)}")
        making.write_bytes(sound)
        return making.replace(path)

    def missing(self, take: str, count: int) -> list[int]:
        """The numbers below ``count`` of which no piece is here."""
        return [n for n in range(count) if not (self.at(take) / f"{n:04}.pcm").is_file()]

    def wav(self, take: str, told: Telling) -> bytes:
        """The whole take as a WAV file, from where the band's clock began; all pieces are here."""
        sound = b"".join((self.at(take) / f"{n:04}.pcm").read_bytes() for n in range(told.pieces))
        made = BytesIO()
        with wave.open(made, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(told.rate)
            file.writeframes(sound[2 * told.skip :])
        return made.getvalue()

    def drop(self, take: str) -> None:
        """Forget the pieces of a take."""
        shutil.rmtree(self.at(take), ignore_errors=True)

    def at(self, take: str) -> Path:
        """Where the pieces of a take lie."""
        return self.root / "coming" / take

    def _forget_old(self) -> None:
        at = self.root / "coming"
        for folder in at.iterdir() if at.is_dir() else ():
            if folder.stat().st_mtime < self.now() - KEPT_S:
                shutil.rmtree(folder, ignore_errors=True)
