"""The text of a chart with its places, so that every fault can be shown where it lies."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from unicodedata import category

from changewright.errors import ChartError, Place

__all__ = ["MOST_CHARACTERS", "Source", "Token", "nearest"]

MOST_CHARACTERS = 400_000
"""A chart longer than this is no chart; the longest on the shelf has under a thousand."""

_LONGEST_LINE = 4000
_LONGEST_SHOWN = 160
_TOKEN = re.compile(r"\|+|<[^<>|]*>|[^\s|<>]+|\S")
_COMMENT = re.compile(r"(?:^|(?<=\s))#.*")
_BREAK = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True, slots=True)
class Token:
    """A word of a line and the column where it begins, from 1."""

    text: str
    column: int


@dataclass(frozen=True, slots=True)
class Source:
    """The lines of a chart and the name of its file."""

    lines: tuple[str, ...]
    file: str | None = None

    @classmethod
    def of(cls, text: str, file: str | None = None) -> "Source":
        """Cut a text into lines; raises :class:`ChartError` for what can't be a typed chart."""
        if len(text) > MOST_CHARACTERS:
            raise ChartError(
                f"{len(text):,} characters are too many for a chart",
                where=Place(file),
                remedy=f"A chart has at most {MOST_CHARACTERS:,}.",
            )
        source = cls(tuple(_BREAK.split(text.removeprefix("\ufeff"))), file)
        source._check_lengths()
        source._check_characters()
        return source

    def _check_lengths(self) -> None:
        for number, line in enumerate(self.lines, 1):
            if len(line) > _LONGEST_LINE:
                raise self.fault(
                    f"a line of {len(line):,} characters",
                    number,
                    remedy=f"Break it: a line has at most {_LONGEST_LINE:,}, four bars read best.",
                )

    def _check_characters(self) -> None:
        for number, line in enumerate(self.lines, 1):
            for column, sign in enumerate(line, 1) if not line.isprintable() else ():
                if not (sign.isprintable() or sign == "\t" or category(sign) == "Zs"):
                    raise self.fault(
                        f"the character U+{ord(sign):04X} can't stand in a chart",
                        number,
                        column,
                        remedy="Save the chart as plain text in UTF-8.",
                    )

    def fault(
        self,
        what: str,
        line: int | None = None,
        column: int | None = None,
        bar: int | None = None,
        beat: str | None = None,
        remedy: str = "",
    ) -> ChartError:
        """The error for a place: the line with a caret under the column, where it fits."""
        shown = ""
        if line is not None and (column or 1) <= _LONGEST_SHOWN:
            written = self.lines[line - 1][:_LONGEST_SHOWN]
            shown = "".join(s if s.isprintable() else " " for s in written)
        place = Place(self.file, line, column, bar, beat)
        return ChartError(what, where=place, remedy=remedy, source=shown)

    def tokens(self, line: int) -> Iterator[Token]:
        """The words of a line without its comment, bar lines and pins as one word each."""
        text = _COMMENT.sub("", self.lines[line - 1])
        return (Token(m[0], m.start() + 1) for m in _TOKEN.finditer(text))

    def bare(self, line: int) -> str:
        """A line without its comment, single spaces between words."""
        return " ".join(_COMMENT.sub("", self.lines[line - 1]).split())


def nearest(word: str, known: list[str]) -> str:
    """``"Did you mean ...? "`` or nothing."""
    near = get_close_matches(word.lower()[:60], known, n=1)
    return f"Did you mean {near[0]!r}? " if near else ""
