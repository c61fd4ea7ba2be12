"""Read the heading of a chart: title, key, meter, tempo, feel, rights and the order of sections."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from changewright.chart.cells import read_key
from changewright.chart.chart import RIGHTS, SECTION_NAME
from changewright.chart.roads import MOST_PLAYED
from changewright.chart.source import Source, Token, nearest
from changewright.errors import ChartError
from changewright.music.bar import FOUR_FOUR, Meter
from changewright.theory.key import Key

__all__ = ["Heading", "read_meter"]

_HEADER = re.compile(r"\s*([A-Za-z][A-Za-z ]*?)\s*:\s*(.*?)\s*")
_FORMS = ("form", "head in", "solos", "head out")
_KNOWN = ("title", "by", "key", "meter", "tempo", "feel", "rights", *_FORMS)
_BODY_WORDS = ("section", "melody", "repeat", "vamp", "ending", "pickup")


@dataclass(slots=True)
class Heading:
    """The heading read so far. ``fields`` are keyword arguments of :class:`Chart`."""

    source: Source
    meter: Meter = FOUR_FOUR
    key: Key | None = None
    fields: dict[str, Any] = field(default_factory=lambda: {"title": "untitled"})
    seen: set[str] = field(default_factory=set)
    forms: dict[str, tuple[int, Token]] = field(default_factory=dict)

    def take(self, line: int) -> bool:
        """Read a line of the heading, or say that the heading is over."""
        text = self.source.lines[line - 1]
        if not text.strip() or text.lstrip().startswith("#"):
            return True
        match = _HEADER.fullmatch(text)
        if match is None or text.lstrip().startswith("|"):
            return False
        name = " ".join(match[1].lower().split())
        if name in _BODY_WORDS:
            return False
        value = Token(" ".join(match[2].split()), match.start(2) + 1)
        self._check_name(line, name, match.start(1) + 1, value)
        self._take(line, name, value)
        return True

    def check_forms(self, sections: Mapping[str, int], unnamed: bool) -> None:
        """Read the order lines, now that the sections are known."""
        for name, (line, value) in self.forms.items():
            if unnamed:
                raise self.source.fault(
                    f"the {name} line names sections, and the first bars have no name",
                    line,
                    value.column,
                    remedy="Write 'section A' above the first bar.",
                )
            order = self._order(line, value, sections)
            if len(order) > MOST_PLAYED:
                raise self._too_long(line, value)
            self.fields[name.replace(" ", "_")] = order

    def _too_long(self, line: int, value: Token) -> ChartError:
        return self.source.fault(
            f"a form of more than {MOST_PLAYED} sections",
            line,
            value.column,
            remedy="Name the sections of one chorus.",
        )

    def _check_name(self, line: int, name: str, column: int, value: Token) -> None:
        if value.text.startswith("|"):
            raise self.source.fault(
                f"bars behind {name[:40]!r}",
                line,
                column,
                remedy="Write bars on lines of their own, and 'section A' on a line above them.",
            )
        if name not in _KNOWN:
            raise self.source.fault(
                f"unknown line {name[:40]!r} in the heading",
                line,
                column,
                remedy=f"{nearest(name, list(_KNOWN))}Known: {', '.join(_KNOWN)}.",
            )
        if name in self.seen:
            raise self.source.fault(
                f"a second {name!r} in the heading", line, column, remedy="Keep one of them."
            )
        if not value.text or (len(value.text) > 200 and name not in _FORMS):
            raise self.source.fault(
                f"{name!r} wants a value on its line, of up to 200 characters",
                line,
                value.column,
                remedy=f"Write it like {_EXAMPLES[name]!r}, or leave the line out.",
            )
        self.seen.add(name)

    def _take(self, line: int, name: str, value: Token) -> None:
        if name in _FORMS:
            self.forms[name] = line, value
        elif name == "key":
            self.key = read_key(self.source, line, value)
        elif name == "meter":
            self.meter = read_meter(self.source, line, value.text)
        elif name == "tempo":
            self.fields["tempo_bpm"] = self._tempo(line, value)
        elif name == "rights":
            self.fields["rights"] = self._rights(line, value)
        else:
            self.fields[name] = self._line(line, value)

    def _line(self, line: int, value: Token) -> str:
        if not value.text.isprintable():
            raise self.source.fault(
                "a character here can't be printed", line, value.column, remedy="Type it again."
            )
        return value.text

    def _tempo(self, line: int, value: Token) -> int:
        if value.text.isascii() and value.text.isdigit() and len(value.text) < 5:
            tempo = int(value.text)
            if 20 <= tempo <= 400:
                return tempo
        raise self.source.fault(
            f"{value.text[:40]!r} isn't a tempo",
            line,
            value.column,
            remedy="Write quarter notes a minute, from 20 to 400, like 'tempo: 120'.",
        )

    def _rights(self, line: int, value: Token) -> str:
        text = re.sub(r"\s*,\s*", ", ", self._line(line, value)).strip(", ")
        head, comma, rest = text.partition(",")
        if head.lower() in RIGHTS:
            return head.lower() + comma + rest
        raise self.source.fault(
            f"{value.text[:40]!r} doesn't say whose the tune is",
            line,
            value.column,
            remedy=f"Begin with one of: {', '.join(RIGHTS)}; details may follow after a comma.",
        )

    def _order(self, line: int, value: Token, sections: Mapping[str, int]) -> tuple[str, ...]:
        words = re.split(r"[\s,]+", value.text.strip(", "))
        if len(words) == 1 and words[0] not in sections and words[0].isalpha():
            letters = tuple(words[0])
            if len(letters) > 1 and (set(letters) <= set(sections) or words[0].isupper()):
                words = list(letters)
        for word in words:
            if word not in sections:
                raise self.source.fault(
                    _missing(word),
                    line,
                    value.column + max(value.text.find(word), 0),
                    remedy=f"Sections of this chart: {', '.join(list(sections)[:40]) or 'none'}.",
                )
        return tuple(words)


def _missing(word: str) -> str:
    if SECTION_NAME.fullmatch(word):
        return f"section {word} isn't in this chart"
    return f"{word[:40]!r} isn't the name of a section"


def read_meter(source: Source, line: int, text: str) -> Meter:
    """Read a meter such as ``3/4``."""
    match = re.fullmatch(r"(\d{1,2})\s*/\s*(\d{1,2})", text, re.ASCII)
    try:
        if match:
            return Meter(int(match[1]), int(match[2]))
    except ValueError:
        pass
    raise source.fault(
        f"{text[:40]!r} isn't a meter",
        line,
        max(source.lines[line - 1].find(text), 0) + 1,
        remedy="Write it like 4/4, 3/4, 6/8 or 5/4.",
    )


_EXAMPLES = {
    "title": "title: Low Water Blues",
    "by": "by: Trombone, Thursday",
    "key": "key: Bb",
    "meter": "meter: 4/4",
    "tempo": "tempo: 120",
    "feel": "feel: swing",
    "rights": "rights: own work",
    "form": "form: A A B A",
    "head in": "head in: Intro A A B A",
    "solos": "solos: A A B A",
    "head out": "head out: A A B A Tag",
}
