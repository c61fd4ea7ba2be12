"""Listening notes as a page: the player's own questions, what is said, then the take itself, bar by
bar. What was heard comes here as plain values; nothing on this page judges."""

from dataclasses import dataclass

from changewright.music.sheet import Sheet

__all__ = ["BarNote", "HeardPage"]


@dataclass(frozen=True, slots=True)
class BarNote:
    """What is said of one bar, and the bar's sound as a WAV file (``b""`` for none)."""

    number: int
    text: str
    sound: bytes = b""


@dataclass(frozen=True, slots=True)
class HeardPage:
    """The contents of a page of listening notes.

    ``said`` are short heads with a sentence each ("What worked", ...), in order. ``heard`` is the
    take written down over the exercise's bars, None where its place is not known; ``exercise`` what
    was asked, None for an open solo.
    ``strokes`` are lines of (quarters from the start of the chorus, concert pitch).
    """

    title: str
    for_whom: str
    questions: tuple[str, ...]
    headline: str
    said: tuple[tuple[str, str], ...]
    bars: tuple[BarNote, ...]
    caveat: str
    heard: Sheet | None
    exercise: Sheet | None = None
    strokes: tuple[tuple[tuple[float, float], ...], ...] = ()
