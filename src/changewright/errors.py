"""Everything that can be said to a user when something is wrong.

The tree::

    ChangewrightError
    ├── InputError              the user's input can't be used; says where and what to do
    │   ├── ChartError          a chart file: line, column, bar, beat
    │   ├── ChordError          a chord symbol: the column inside the symbol
    │   ├── UnknownName         an instrument, level, key, family ...: lists those we know
    │   ├── TakeError           a recording that can't be judged
    │   ├── LessonError         a lesson folder that is missing, broken, or of another make
    │   ├── RosterError         a student, consent or roster file: says which and what is wrong
    │   ├── NotKept             a chart, lesson or take that the studio doesn't have
    │   ├── PlanError           a practice week that nobody can make
    │   └── StoreError          the database, a recording or a backup that can't be used
    ├── Refusal                 the rules leave no line: bar, beat, rules, repairs
    └── EngineError             an engine that we call failed; a fault of ours to be reported

Every error's ``str`` is one complete message: what is wrong, where, and what to do.
The command line prints it and exits with status 2 (1 for ``EngineError``).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

__all__ = [
    "ChangewrightError",
    "ChartError",
    "ChordError",
    "EngineError",
    "InputError",
    "LessonError",
    "NotKept",
    "Place",
    "PlanError",
    "Refusal",
    "RosterError",
    "StoreError",
    "TakeError",
    "UnknownName",
]


@dataclass(frozen=True, slots=True)
class Place:
    """Say where a fault lies: file, line and column (from 1), bar and beat (from 1)."""

    file: str | None = None
    line: int | None = None
    column: int | None = None
    bar: int | None = None
    beat: str | None = None

    def __str__(self) -> str:
        words = [
            str(self.file) if self.file is not None else "",
            f"line {self.line}" if self.line is not None else "",
            f"column {self.column}" if self.column is not None else "",
            f"bar {self.bar}" if self.bar is not None else "",
            f"beat {self.beat}" if self.beat is not None else "",
        ]
        return ", ".join(word for word in words if word)


class ChangewrightError(Exception):
    """The root: anything that this package says on purpose."""


class InputError(ChangewrightError):
    """The input can't be used as it is. ``what``, ``where`` and ``remedy`` make the message."""

    def __init__(
        self, what: str, *, where: Place | None = None, remedy: str = "", source: str = ""
    ) -> None:
        self.what = what
        self.where = where or Place()
        self.remedy = remedy
        self.source = source
        super().__init__(self._message())

    def _message(self) -> str:
        place = str(self.where)
        head = f"{place}: {self.what}" if place else self.what
        lines = [head]
        if self.source:
            lines.append(f"    {self.source}")
            if self.where.column is not None:
                lines.append("    " + " " * (self.where.column - 1) + "^")
        if self.remedy:
            lines.append(self.remedy)
        return "\n".join(lines)


class ChartError(InputError):
    """A chart can't be read: where it stops making sense, and what to write instead."""


class ChordError(InputError):
    """A chord symbol can't be read. ``where.column`` points into the symbol."""


class UnknownName(InputError):
    """A name of an instrument, level, key ... that we don't have; lists those we do."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        self.kind = kind
        self.name = name
        self.known = tuple(known)
        near = get_close_matches(name.lower(), [k.lower() for k in self.known], n=1)
        guess = next((k for k in self.known if near and k.lower() == near[0]), None)
        hint = f"Did you mean {guess!r}? " if guess else ""
        super().__init__(
            f"unknown {kind} {name!r}",
            remedy=f"{hint}Known: {', '.join(self.known)}.",
        )


class TakeError(InputError):
    """A recording can't be judged: what it is instead, and what to do."""


class LessonError(InputError):
    """A lesson folder is missing, broken, or made by another version."""


class NotKept(InputError):
    """A chart, lesson or take was asked for that the studio doesn't have."""


class RosterError(InputError):
    """A student, a consent or a row of a roster can't be used; names it."""


class PlanError(InputError):
    """A plan can't be made of what was asked for."""


class StoreError(InputError):
    """The database, a kept recording or a backup can't be used."""


class Refusal(ChangewrightError):
    """The rules leave no line. Names the place, the rules that collide, and what would help.

    ``bar`` counts from 1; ``beat`` is a string such as ``"1"`` or ``"2.5"``; ``repairs`` are
    sentences, the smallest relaxation first.
    """

    def __init__(
        self,
        bar: int,
        beat: str,
        rules: Sequence[str],
        repairs: Sequence[str] = (),
        detail: str = "",
    ) -> None:
        self.bar = bar
        self.beat = beat
        self.rules = tuple(rules)
        self.repairs = tuple(repairs)
        self.detail = detail
        rule_words = ", ".join(self.rules)
        message = f"bar {bar}, beat {beat}: no note satisfies the rules together: {rule_words}"
        if detail:
            message += f" ({detail})"
        if self.repairs:
            message += "\nWhat would help: " + "; or ".join(self.repairs) + "."
        super().__init__(message)


class EngineError(ChangewrightError):
    """An engine that we call (engraver, decoder ...) failed where it should not have."""
