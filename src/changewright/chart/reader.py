"""Read a chart from text. The first fault is raised with its place; nothing is collected."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from changewright.chart.cells import Cell, cells_of, read_beats, read_chords, read_key
from changewright.chart.chart import MOST_WRITTEN, SECTION_NAME, Chart
from changewright.chart.heading import Heading, read_meter
from changewright.chart.listing import is_listing, listed_bars
from changewright.chart.melody import read_melody
from changewright.chart.roads import MarkFault
from changewright.chart.source import Source, Token, nearest
from changewright.chart.written import MOST_TIMES, Jump, Repeat, WrittenBar
from changewright.errors import ChartError
from changewright.music.bar import FOUR_FOUR, Meter
from changewright.theory.key import Key

__all__ = ["read_chart"]


def read_chart(text: str, file: str | None = None) -> Chart:
    """Read a chart in our text format, or a plain list of symbols and beats.

    ``file`` is its name for messages. Raises :class:`ChartError` at the first fault.
    """
    source = Source.of(text, file)
    heading = Heading(source)
    line = 1
    while line <= len(source.lines) and heading.take(line):
        line += 1
    if line <= len(source.lines) and is_listing(source, line):
        heading.check_forms({}, unnamed=True)
        return Chart(bars=listed_bars(source, line, heading.meter, heading.key), **heading.fields)
    body = _Body(source, heading.meter, heading.key)
    for number in range(line, len(source.lines) + 1):
        body.take(number)
    body.finish()
    return _chart(source, heading, body)


def _chart(source: Source, heading: Heading, body: "_Body") -> Chart:
    heading.check_forms(body.sections, unnamed=not body.starts_named)
    try:
        return Chart(bars=tuple(body.bars), **heading.fields)
    except MarkFault as fault:
        raise body.fault_at(fault.index, fault.what, fault.remedy) from None
    except ValueError as error:
        raise source.fault(f"this chart can't be played: {error}") from None


@dataclass(slots=True)
class _Body:
    """The bars read so far, and the marks that wait for the next one."""

    source: Source
    meter: Meter = FOUR_FOUR
    key: Key | None = None
    bars: list[WrittenBar] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    sections: dict[str, int] = field(default_factory=dict)
    waiting: dict[str, Any] = field(default_factory=dict)
    waiting_line: int = 0
    pickup: Fraction | None = None
    opened: tuple[int, bool] | None = None
    last_row: tuple[int, int] | None = None

    @property
    def next_number(self) -> int:
        """The number on paper of the bar to come."""
        has_pickup = bool(self.bars) and self.bars[0].pickup
        return len(self.bars) + (0 if has_pickup or self.pickup is not None else 1)

    @property
    def starts_named(self) -> bool:
        """Whether the first full bar begins a section."""
        full = [bar for bar in self.bars[:2] if not bar.pickup]
        return bool(full) and bool(full[0].section)

    def take(self, line: int) -> None:
        """Read one line."""
        words = self.source.bare(line)
        if not words:
            return
        if words.startswith("|"):
            self._take_bars(line)
        elif re.match(r"melody\s*:?\s*\|", words, re.IGNORECASE):
            self._take_melody(line)
        else:
            self._take_mark(line, words)

    def finish(self) -> None:
        """Check that nothing is left open."""
        self._check_section_filled(len(self.source.lines))
        if self.waiting or self.pickup is not None:
            raise self.source.fault(
                "nothing follows this mark",
                self.waiting_line,
                1,
                remedy="Write its bars between | signs on the next line.",
            )
        if not self.bars or self.bars[-1].pickup:
            raise self.source.fault(
                "the chart has no bars", remedy="Write bars between | signs, like | F7 | Bb7 |."
            )

    def fault_at(self, index: int, what: str, remedy: str) -> ChartError:
        """An error at a bar that has been read."""
        has_pickup = self.bars[0].pickup
        number = index if has_pickup else index + 1
        return self.source.fault(what, self.lines[index], 1, number, remedy=remedy)

    def _take_bars(self, line: int) -> None:
        first = len(self.bars)
        for cell in cells_of(self.source, line, self.next_number):
            self._take_bar(cell)
        self.last_row = first, len(self.bars)

    def _take_bar(self, cell: Cell) -> None:
        if len(self.bars) >= MOST_WRITTEN:
            raise cell.fault(
                f"more than {MOST_WRITTEN} bars", remedy="Use repeats, or make several charts."
            )
        beats = self.pickup or Fraction(self.meter.beats)
        before = self.bars[-1] if self.bars and not self.bars[-1].pickup else None
        is_landing = bool(self.waiting.keys() & {"section", "opens", "ending", "sign", "coda"})
        chords, pin = read_chords(cell, self.meter, beats, before, not is_landing)
        marks = {"pickup": True} if self.pickup is not None else self.waiting
        self.bars.append(WrittenBar(chords, self.meter, self.key, pin=pin, **marks))
        self.lines.append(cell.line)
        self._note_marks(marks)

    def _note_marks(self, marks: dict[str, Any]) -> None:
        index = len(self.bars) - 1
        if "section" in marks:
            self.sections[marks["section"]] = index
        if marks is self.waiting:
            self.waiting = {}
        self.pickup = None

    def _take_melody(self, line: int) -> None:
        if self.last_row is None:
            raise self.source.fault(
                "a melody without its bars",
                line,
                1,
                remedy="Write the line of chords first, and the melody right under it.",
            )
        first, stop = self.last_row
        bars = self.bars[first:stop]
        number = first if self.bars[0].pickup else first + 1
        tokens = [t for t in self.source.tokens(line) if t.text.startswith("|")]
        skip = next(i for i, t in enumerate(self.source.tokens(line)) if t.text.startswith("|"))
        cells = cells_of(self.source, line, number, skip)
        if len(cells) != len(bars):
            raise self.source.fault(
                f"{len(cells)} bars of melody under {len(bars)} bars of chords",
                line,
                tokens[min(len(cells), len(bars))].column,
                remedy="Write one bar of melody for each bar above it; an empty bar is silent.",
            )
        for index, cell in enumerate(cells, first):
            self.bars[index] = self._sung(index, cell)
        self.last_row = None

    def _sung(self, index: int, cell: Cell) -> WrittenBar:
        bar = self.bars[index]
        before = self.bars[index - 1].melody if index else ()
        last = before[-1].pitch if before else None
        beats = bar.length / bar.meter.beat
        return replace(bar, melody=read_melody(cell, bar.meter, beats, last))

    def _take_mark(self, line: int, words: str) -> None:
        self.last_row = None
        for pattern, take in _MARKS:
            match = re.fullmatch(pattern, words, re.IGNORECASE)
            if match:
                take(self, line, match)
                return
        raise self._unknown(line, words)

    def _unknown(self, line: int, words: str) -> ChartError:
        word = words.partition(":")[0].lower()
        column = len(self.source.lines[line - 1]) - len(self.source.lines[line - 1].lstrip()) + 1
        if re.match(r"(section|key|meter|ending|repeat|vamp|pickup)\b", word) and ":" in words:
            remedy = f"Among the bars, write it without a colon: {words.replace(':', '')[:40]!r}."
        elif re.fullmatch(r"\W*[A-Za-z]\d?\W*", words):
            remedy = f"To name a section, write 'section {words.strip('[]():.')}'."
        elif ":" in words:
            remedy = "Lines of the heading stand above the first bar or section."
        else:
            remedy = (
                f"{nearest(words, _EXAMPLES)}Bars stand between | signs; "
                f"the other lines are like {', '.join(repr(e) for e in _EXAMPLES)}."
            )
        return self.source.fault(f"can't read {words[:40]!r}", line, column, remedy=remedy)

    def _wait(self, line: int, mark: str, value: object) -> None:
        if mark in self.waiting:
            raise self.source.fault(
                "this mark stands twice before one bar", line, 1, remedy="Keep one of them."
            )
        self.waiting[mark] = value
        self.waiting_line = line

    def _check_section_filled(self, line: int) -> None:
        if "section" in self.waiting:
            raise self.source.fault(
                f"section {self.waiting['section']} has no bars",
                min(self.waiting_line, line),
                1,
                remedy="Write its bars between | signs under it.",
            )

    def _after(self, line: int) -> None:
        if not self.bars or self.waiting or self.bars[-1].pickup:
            raise self.source.fault(
                "this mark stands after a bar, and there is none",
                line,
                1,
                remedy="Write the bar it belongs to above it.",
            )

    def _section(self, line: int, match: re.Match[str]) -> None:
        self._check_section_filled(line)
        name = match[1]
        column = self.source.lines[line - 1].index(name) + 1
        if not SECTION_NAME.fullmatch(name):
            raise self.source.fault(
                f"{name[:40]!r} can't name a section",
                line,
                column,
                remedy="Name it with a letter or one word: A, B, Intro, Tag.",
            )
        if name in self.sections:
            raise self.source.fault(
                f"section {name} is written twice",
                line,
                column,
                remedy="Write it once and say 'form: A A B A' in the heading, or rename it.",
            )
        self._wait(line, "section", name)

    def _pickup(self, line: int, match: re.Match[str]) -> None:
        column = self.source.lines[line - 1].index(match[1]) + 1
        cell = Cell(self.source, line, (), 1, 0)
        beats = read_beats(cell, Token(match[1], column))
        if self.bars or self.pickup is not None or beats >= self.meter.beats:
            raise self.source.fault(
                "a pickup is shorter than a bar and stands before the first",
                line,
                column,
                remedy="Write 'pickup 1' for one beat, above the first bar.",
            )
        self.pickup, self.waiting_line = beats, line

    def _repeat(self, line: int, match: re.Match[str]) -> None:
        if self.opened is not None:
            raise self.source.fault(
                "a repeat opens inside another",
                line,
                1,
                remedy="Close the first with 'end repeat'.",
            )
        is_vamp = match[1].lower() == "vamp"
        times = int(match[2] or (4 if is_vamp else 2))
        if not 2 <= times <= MOST_TIMES:
            raise self.source.fault(
                f"{times} times is not a repeat", line, 1, remedy=f"Say 2 to {MOST_TIMES} times."
            )
        self._wait(line, "opens", Repeat(times, is_vamp))
        full = 1 if self.pickup is not None else 0
        self.opened = len(self.bars) + full, match[2] is not None

    def _ending(self, line: int, match: re.Match[str]) -> None:
        numbers = tuple(int(n) for n in re.findall(r"\d+", match[1]))
        if self.opened is None or self.opened[0] == len(self.bars):
            raise self.source.fault(
                "an ending stands outside a repeat",
                line,
                1,
                remedy="Write 'repeat' and the bars that come back before it.",
            )
        if not all(1 <= n <= MOST_TIMES for n in numbers):
            raise self.source.fault(
                "endings count from 1", line, 1, remedy="Write 'ending 1', 'ending 2'."
            )
        self._wait(line, "ending", numbers)

    def _close(self, line: int, _match: re.Match[str]) -> None:
        self._after(line)
        if self.opened is None:
            raise self.source.fault(
                "no repeat is open here",
                line,
                1,
                remedy="Write 'repeat' before the first bar that comes back.",
            )
        start, is_counted = self.opened
        endings = [n for bar in self.bars[start:] for n in bar.ending]
        opens = self.bars[start].opens
        if endings and opens and not is_counted:
            times = min(max(*endings, 2), MOST_TIMES)
            self.bars[start] = replace(self.bars[start], opens=replace(opens, times=times))
        self._mark_last(closes=True)
        self.opened = None

    def _mark_last(self, **marks: Any) -> None:
        self.bars[-1] = replace(self.bars[-1], **marks)

    def _back(self, line: int, match: re.Match[str]) -> None:
        self._after(line)
        to, then = match[1].lower(), (match[2] or "").lower()
        self._mark_last(jump=Jump("sign" if to in ("sign", "s") else "top", _THEN[then]))

    def _meter(self, line: int, match: re.Match[str]) -> None:
        self.meter = read_meter(self.source, line, match[1])

    def _key(self, line: int, match: re.Match[str]) -> None:
        column = self.source.lines[line - 1].lower().index("key") + 5
        self.key = read_key(self.source, line, Token(match[1], column))


def _before(mark: str) -> "_Take":
    return lambda body, line, _match: body._wait(line, mark, True)


def _after(mark: str) -> "_Take":
    def take(body: _Body, line: int, _match: re.Match[str]) -> None:
        body._after(line)
        body._mark_last(**{mark: True})

    return take


_Take = Callable[[_Body, int, re.Match[str]], None]
_THEN: dict[str, Any] = {"": "", "coda": "coda", "end": "end", "fine": "end"}
_MARKS: tuple[tuple[str, _Take], ...] = (
    (r"section (\S+)", _Body._section),
    (r"pickup (\S+)(?: beats?)?", _Body._pickup),
    (r"(repeat|vamp)(?: (\d{1,6}) times)?", _Body._repeat),
    (r"ending (\d{1,6}(?:(?: and |, ?| )\d{1,6})*)", _Body._ending),
    (r"end (?:repeat|vamp)", _Body._close),
    (r"sign|segno", _before("sign")),
    (r"coda", _before("coda")),
    (r"to coda", _after("to_coda")),
    (r"end here|fine", _after("fine")),
    (r"back to the (top|sign)(?:,? then the (coda|end))?", _Body._back),
    (r"d\. ?(c|s)\.?(?: al (coda|fine))?", _Body._back),
    (r"meter (\S+)", _Body._meter),
    (r"key (\S+(?: \S+)?)", _Body._key),
)
_EXAMPLES = [
    "section A",
    "repeat",
    "ending 1",
    "end repeat",
    "vamp 4 times",
    "pickup 1",
    "meter 3/4",
    "key Ab",
    "sign",
    "coda",
    "to coda",
    "end here",
    "back to the sign, then the coda",
]
