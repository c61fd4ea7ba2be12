"""Listening notes as a page: the player's own questions, what is said, then the take itself, bar by
bar. What was heard comes here as plain values; nothing on this page judges."""

from dataclasses import dataclass

from changewright.music.sheet import Sheet

__all__ = ["BarNote", "HeardPage", "MeasureRow"]


@dataclass(frozen=True, slots=True)
class BarNote:
    """What is said of one bar, and the bar's sound as a WAV file (``b""`` for none)."""

    number: int
    text: str
    sound: bytes = b""


@dataclass(frozen=True, slots=True)
class MeasureRow:
    """One measure of an open solo, in words; ``""`` where there is nothing to stand there.

    ``chance`` is what notes drawn at random would give, ``lift`` how far above that the take is,
    ``record`` what solos on record give, ``word`` how it stands beside what the level asks.
    """

    name: str
    value: str
    chance: str
    lift: str
    record: str
    counted: str
    word: str


@dataclass(frozen=True, slots=True)
class HeardPage:
    """The contents of a page of listening notes.

    ``said`` are short heads with a sentence each ("What worked", ...), in order. ``heard`` is the
    take written down over the exercise's bars, None where its place is not known; ``exercise`` what
    was asked, None for an open solo.
    ``measures`` are those of an open solo, in order; there is no total.
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
    measures: tuple[MeasureRow, ...] = ()
