"""A chorus as read: changes in rows of four bars, numerals beneath, keys as brackets over them,
and an arrow from each dominant to where it resolves. Black and white only.

Lengths are in the engraver's drawing units, y downwards; a row's symbols stand on y = 0.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from changewright.music.bar import Bar, Quarters
from changewright.music.written import Hand
from changewright.page._verovio import STAFF_SPACE, STAFF_WIDTH
from changewright.page.drawing import Box, Shape
from changewright.page.language import Language, language
from changewright.page.look import Look, printable
from changewright.page.svg import Picture
from changewright.page.symbol import Run, name_text, symbol_runs, symbol_width, symbol_words
from changewright.page.text import Text, moved, set_text
from changewright.reading.heard import sounding_root
from changewright.reading.model import Area, Cadence, CadenceKind, Function, ReadChange, Reading
from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.pitch import Name
from changewright.theory.symbol_writing import Style

__all__ = ["ScaleLine", "reading_rows", "scale_lines"]

_SPACE = STAFF_SPACE
_BARS = 4
_ROOMY = 0.8  # symbols smaller than this share of their size ask for longer bars
_PAD = 1.2 * _SPACE
_NUMERAL, _BRACKET, _ARROW = 2.7 * _SPACE, 3.3 * _SPACE, 4.9 * _SPACE  # below the symbols
_KEY = -4.1 * _SPACE  # the key brackets, above the symbols
_TOP, _BOTTOM = -2.9 * _SPACE, 3.0 * _SPACE  # of the bar lines
_LINE = 24.0
_MOST_LINES = 14


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a change stands: its row, and the middle of its symbol's first letter."""

    row: int
    x: float


@dataclass(frozen=True, slots=True)
class ScaleLine:
    """One line of the table of scales, all at written pitch."""

    symbol: str
    numeral: str
    tones: str
    scale: str
    scale_tones: str
    because: str


def reading_rows(
    reading: Reading,
    hand: Hand,
    look: Look,
    *,
    width: float = STAFF_WIDTH,
    in_language: str = "en",
) -> list[tuple[Picture, str]]:
    """The chorus as rows to draw, each with its changes in words for a screen reader.

    ``width`` is that of a row in drawing units: fewer across the same paper make larger print.
    ``in_language`` is that of the keys over the bars; the words come in English.
    There symbols that four bars a row would shrink get two bars a row.
    """
    names = language(in_language)
    chart = _Chart(reading, hand, look, names, width, _BARS)
    if width < STAFF_WIDTH and chart.squeeze < _ROOMY:
        chart = _Chart(reading, hand, look, names, width, _BARS // 2)
    return [(chart.picture(n), chart.words(n)) for n in range(len(chart.rows))]


def scale_lines(
    reading: Reading,
    hand: Hand,
    written: Reading | None = None,
    chords: Style = "abbreviated",
    in_language: str = "en",
) -> list[ScaleLine]:
    """Each chord of the chorus once, with its tones, its first scale and the reason.

    PITFALL: reasons name notes at their reading's own pitch. Where the hand moves names, they
    are those of ``written``, the same chorus read at written pitch, or are left out. ``chords``
    is the style of the symbols, ``in_language`` that of the scales' names; reasons come in English.
    """
    found: dict[tuple[object, ...], ScaleLine] = {}
    words = language(in_language)
    told = reading if written is None and hand.up.fifths == 0 else written
    for index, change in enumerate(reading.changes):
        chord = hand.chord(change.change.chord)
        if chord.root is None or not change.scales or change.change.chord.root is None:
            continue
        choice = change.scales[0]
        shift = choice.scale.root.fifths - change.change.chord.root.fifths
        scale = choice.scale.kind.on(Name(chord.root.fifths + shift))
        line = ScaleLine(
            "".join(run.text for run in symbol_runs(chord, style=chords)),
            _numeral_text(change),
            " ".join(name_text(hand.name(name)) for name in chord.tones),
            f"{name_text(scale.root)} {_signs(words.scale(scale.kind))}",
            " ".join(name_text(hand.name(name)) for name in scale.tones),
            printable(_signs(told.changes[index].scales[0].because)) if told else "",
        )
        found.setdefault((chord, choice.scale.kind.id), line)
    return list(found.values())[:_MOST_LINES]


def _signs(words: str) -> str:
    """True accidentals before figures and after note names: ``b9``, ``Bb7``."""
    flat = re.sub(r"\bb(?=\d)|(?<=\b[A-G])b(?![a-z])", "♭", words)
    return re.sub(r"#(?=\d)|(?<=\b[A-G])#", "♯", flat)


def _rows_of(bars: Sequence[Bar], size: int) -> list[tuple[Bar, ...]]:
    """So many bars a row, a new section on a new row; a pickup carries no reading."""
    rows: list[list[Bar]] = []
    for bar in bars:
        if bar.number == 0:
            continue
        if not rows or len(rows[-1]) == size or bar.label:
            rows.append([])
        rows[-1].append(bar)
    return [tuple(row) for row in rows]


def _numeral_text(change: ReadChange) -> str:
    shown = change.relation or change.numeral
    return printable(shown.replace("b", "♭").replace("#", "♯").replace("su♭V", "subV"))


class _Chart:
    """Lays the rows out; changes are found again by their index in the reading."""

    def __init__(
        self,
        reading: Reading,
        hand: Hand,
        look: Look,
        names: Language,
        width: float,
        bars_a_row: int,
    ) -> None:
        self._reading, self._hand, self._look, self._names = reading, hand, look, names
        self._width, self._bar = width, width / bars_a_row
        self.rows = _rows_of(reading.bars, bars_a_row)
        self._places = self._all_places()

    def picture(self, row: int) -> Picture:
        """One row with everything that stands on it."""
        texts = (*self._symbols(row), *self._margin(row), *self._key_names(row))
        shapes = (
            *self._bar_lines(row),
            *self._key_lines(row),
            *self._arrows(row),
            *self._similes(row),
        )
        boxes = [t.box for t in texts] + [s.box for s in shapes]
        top = min(b.top for b in boxes) - 0.4 * _SPACE
        bottom = max(b.bottom for b in boxes) + 0.4 * _SPACE
        return Picture(self._width, Box(0, top, self._width, bottom), shapes, texts)

    def words(self, row: int) -> str:
        """The row's changes with their numerals, in words."""
        numbers = {bar.number for bar in self.rows[row]}
        parts = [
            f"Bar {c.bar}: {symbol_words(self._hand.chord(c.change.chord))}, {_numeral_text(c)}"
            for c in self._reading.changes
            if c.bar in numbers
        ]
        return "; ".join(parts) + "."

    @property
    def squeeze(self) -> float:
        """The share of its size that the most crowded symbol is left."""
        size = self._look.symbol_size * _SPACE
        return min(
            (
                self._room(i) / symbol_width(self._chord(i), self._look, size)
                for i in self._places
                if not self._is_like_before(i)
            ),
            default=1.0,
        )

    def _chord(self, index: int) -> Chord:
        return self._hand.chord(self._reading.changes[index].change.chord)

    def _all_places(self) -> dict[int, _Place]:
        lefts = {
            bar.number: (row, column * self._bar, bar)
            for row, bars in enumerate(self.rows)
            for column, bar in enumerate(bars)
        }
        places: dict[int, _Place] = {}
        for index, change in enumerate(self._reading.changes):
            if change.bar in lefts:
                row, left, bar = lefts[change.bar]
                share = float((change.change.onset - bar.start) / bar.length)
                places[index] = _Place(row, left + _PAD + share * (self._bar - _PAD))
        return places

    def _text(self, kind: str, x: float, y: float, size: float, text: str) -> Text:
        face = self._look.number if kind == "number" else self._look.symbol
        runs = (Run(text),)
        return moved(set_text(kind, x, size, face, runs, cap=self._look.cap), y)

    def _symbols(self, row: int) -> Iterator[Text]:
        hand = self._look.name == "handwritten"
        for index, place in self._places.items():
            if place.row != row or self._is_like_before(index):
                continue
            change = self._reading.changes[index]
            room = self._room(index)
            runs = symbol_runs(self._chord(index), hand, self._look.chords)
            size = self._look.symbol_size * _SPACE
            symbol = set_text("symbol", place.x, size, self._look.symbol, runs, cap=self._look.cap)
            squeeze = min(1.0, room / (symbol.box.right - symbol.box.left))
            yield set_text(
                "symbol", place.x, size * squeeze, self._look.symbol, runs, cap=self._look.cap
            )
            numeral = self._text("numeral", place.x, _NUMERAL, 1.75 * _SPACE, _numeral_text(change))
            squeeze = min(1.0, room / (numeral.box.right - numeral.box.left))
            yield self._text(
                "numeral", place.x, _NUMERAL, 1.75 * _SPACE * squeeze, _numeral_text(change)
            )

    def _is_like_before(self, index: int) -> bool:
        """True for a whole bar of the chord before, not at the head of a row."""
        change, place = self._reading.changes[index], self._places[index]
        bar = next(b for b in self.rows[place.row] if b.number == change.bar)
        if index == 0 or len(bar.changes) > 1 or bar is self.rows[place.row][0]:
            return False
        return change.change.chord == self._reading.changes[index - 1].change.chord

    def _similes(self, row: int) -> Iterator[Shape]:
        for index, place in self._places.items():
            if place.row == row and self._is_like_before(index):
                yield from _simile(place.x - _PAD + self._bar / 2)

    def _room(self, index: int) -> float:
        """How wide a symbol may be before it meets the next, or the bar line."""
        place, after = self._places[index], self._places.get(index + 1)
        bar_line = (place.x // self._bar + 1) * self._bar
        same = after is not None and after.row == place.row and after.x < bar_line
        limit = after.x if after is not None and same else bar_line
        return limit - place.x - 0.5 * _SPACE

    def _margin(self, row: int) -> Iterator[Text]:
        """Bar number and rehearsal letter at the head of the row."""
        bar = self.rows[row][0]
        number = self._text("number", 0, _KEY, 1.5 * _SPACE, str(bar.number))
        yield number
        if bar.label:
            pad = 0.35 * _SPACE
            x = number.box.right + 0.6 * _SPACE + pad
            label = set_text(
                "label", x, 2 * _SPACE, self._look.symbol, (Run(printable(bar.label)),),
                cap=self._look.cap, pad=pad,
            )  # fmt: skip
            yield moved(label, _KEY)

    def _bar_lines(self, row: int) -> Iterator[Shape]:
        bars = self.rows[row]
        for column in range(len(bars) + 1):
            x = min(column * self._bar, self._width - _LINE / 2) or _LINE / 2
            yield _stroke(f"M{x:.0f} {_TOP:.0f}V{_BOTTOM:.0f}", Box(x, _TOP, x, _BOTTOM))
        following = self.rows[row + 1][0] if row + 1 < len(self.rows) else None
        if following is None or following.label:
            x = len(bars) * self._bar - 0.45 * _SPACE
            yield _stroke(f"M{x:.0f} {_TOP:.0f}V{_BOTTOM:.0f}", Box(x, _TOP, x, _BOTTOM))

    def _areas(self, row: int) -> Iterator[tuple[Area, float, float, bool, bool]]:
        """Key areas on a row: where each begins and ends, and whether it really does there."""
        bars = self.rows[row]
        low, high = bars[0].start, bars[-1].end
        for area in self._reading.areas:
            if area.start >= high or area.end <= low:
                continue
            left = self._x_of(row, max(area.start, low))
            right = self._x_of(row, min(area.end, high))
            yield area, left, right, area.start >= low, area.end <= high

    def _x_of(self, row: int, at: Quarters) -> float:
        for column, bar in enumerate(self.rows[row]):
            if bar.start <= at < bar.end:
                return (column + float((at - bar.start) / bar.length)) * self._bar
        return len(self.rows[row]) * self._bar

    def _key_names(self, row: int) -> Iterator[Text]:
        head = max((t.box.right for t in self._margin(row)), default=0) + 0.8 * _SPACE
        for area, left, _, opens, _ in self._areas(row):
            if opens:
                x = max(left + 0.5 * _SPACE, head)
                yield self._text("key", x, _KEY, 1.6 * _SPACE, self._key_text(area))

    def _key_text(self, area: Area) -> str:
        key = self._hand.key if area.key == self._reading.key else None
        tonic = key.tonic if key else Name(area.key.tonic.fifths + self._hand.up.fifths)
        if self._reading.colour == "blues" and area.key == self._reading.key:
            return self._names.lesson("blues", tonic=name_text(tonic))
        return self._names.key(Key(tonic, area.key.mode))

    def _key_lines(self, row: int) -> Iterator[Shape]:
        names = iter(self._key_names(row))
        head = max((t.box.right for t in self._margin(row)), default=0) + 0.8 * _SPACE
        y, hook = _KEY - 0.55 * _SPACE, 0.8 * _SPACE
        for _, left, right, opens, closes in self._areas(row):
            x = next(names).box.right + 0.5 * _SPACE if opens else max(left, head)
            end = right - 0.5 * _SPACE
            if end <= x:
                continue
            tail = f"V{y + hook:.0f}" if closes else ""
            yield _stroke(f"M{x:.0f} {y:.0f}H{end:.0f}{tail}", Box(x, y, end, y + hook))

    def _arrows(self, row: int) -> Iterator[Shape]:
        for first, last in self._two_fives():
            yield from self._bracket(first, last, row)
        for cadence in self._reading.cadences:
            if cadence.kind is not CadenceKind.INTERRUPTED:
                yield from self._arrow(cadence, row)

    def _two_fives(self) -> Iterator[tuple[int, int]]:
        """Every two with its five, whether or not they come to rest."""
        held = {(c.first, self._dominant(c)) for c in self._reading.cadences}
        changes = self._reading.changes
        for i, (a, b) in enumerate(pairwise(changes)):
            leads = a.function is b.function is Function.DOMINANT
            if leads and _is_two_five(a.change.chord, b.change.chord):
                held.add((i, i + 1))
        yield from sorted(pair for pair in held if pair[0] < pair[1])

    def _dominant(self, cadence: Cadence) -> int:
        """The change that resolves: the one before the arrival."""
        count = len(self._reading.changes)
        return (cadence.last - 1) % count

    def _bracket(self, first: int, last: int, row: int) -> Iterator[Shape]:
        """A bracket that holds two and five together."""
        start, end = self._places.get(first), self._places.get(last)
        if not start or not end or start.row != row or end.row != row or end.x <= start.x:
            return
        left, right, y = start.x, end.x + 0.9 * _SPACE, _BRACKET + 0.5 * _SPACE
        path = f"M{left:.0f} {_BRACKET:.0f}V{y:.0f}H{right:.0f}V{_BRACKET:.0f}"
        yield _stroke(path, Box(left, _BRACKET, right, y))

    def _arrow(self, cadence: Cadence, row: int) -> Iterator[Shape]:
        start = self._places.get(self._dominant(cadence))
        end = self._places.get(cadence.last)
        if not start or not end:
            return
        tail, head = start.x + 1.3 * _SPACE, end.x + 0.6 * _SPACE
        if start.row == end.row == row and tail < head:
            yield from _curve(tail, head)
        elif start.row == row:
            yield from _curve(tail, len(self.rows[row]) * self._bar - 0.7 * _SPACE, arrives=False)
        elif end.row == row:
            yield from _curve(0.1 * _SPACE, head, leaves=False)


def _is_two_five(two: Chord, five: Chord) -> bool:
    if two.root is None or five.root is None or not two.has(3, -1):
        return False
    if sounding_root(two) != two.root.pc:  # Fm7/Bb is the five already, suspended
        return False
    is_five = five.has(7, -1) and not five.has(3, -1)
    return is_five and (five.root.pc - two.root.pc) % 12 == 5


def _stroke(path: str, box: Box) -> Shape:
    return Shape("line", "", box, None, (0, 0, 1), path, _LINE, False)


def _curve(
    left: float, right: float, *, leaves: bool = True, arrives: bool = True
) -> Iterator[Shape]:
    """An arc below the numerals: up to the row's edge where the arrival is on another row."""
    high, low = _BRACKET + 0.3 * _SPACE, _ARROW
    start, end = (high if leaves else low), (high if arrives else low)
    bend = (right - left) / 3
    path = f"M{left:.0f} {start:.0f}C{left + bend:.0f} {low:.0f} {right - bend:.0f} {low:.0f}"
    yield _stroke(f"{path} {right:.0f} {end:.0f}", Box(left, high, right, low))
    if arrives:
        half, length, tip = 0.3 * _SPACE, 0.7 * _SPACE, high - 0.3 * _SPACE
        sides = f"l{-1.5 * half:.0f} {length:.0f}l{2 * half:.0f} {0.25 * length:.0f}z"
        box = Box(right - 1.5 * half, tip, right + half, tip + 1.25 * length)
        yield Shape("head", "", box, None, (0, 0, 1), f"M{right:.0f} {tip:.0f}{sides}")


def _simile(middle: float) -> Iterator[Shape]:
    """The sign for a bar like the one before."""
    x, y, size = middle, -0.6 * _SPACE, 1.3 * _SPACE
    slash = (
        f"M{x - size:.0f} {y + size:.0f}l{0.5 * size:.0f} 0"
        f"L{x + size:.0f} {y - size:.0f}l{-0.5 * size:.0f} 0z"
    )
    yield Shape("simile", "", Box(x - size, y - size, x + size, y + size), None, (0, 0, 1), slash)
    radius = 0.2 * size
    for side in (-1, 1):
        at_x, at_y = x + side * 0.75 * size, y + side * 0.45 * size
        dot = (
            f"M{at_x - radius:.0f} {at_y:.0f}a{radius:.0f} {radius:.0f} 0 1 0 {2 * radius:.0f} 0"
            f"a{radius:.0f} {radius:.0f} 0 1 0 {-2 * radius:.0f} 0z"
        )
        box = Box(at_x - radius, at_y - radius, at_x + radius, at_y + radius)
        yield Shape("simile", "", box, None, (0, 0, 1), dot)
