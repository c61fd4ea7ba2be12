"""One system, laid out: what the engraver drew, and our own text set clear of it.

Lengths are in the engraver's drawing units (180 to a staff space), y downwards.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from changewright.music.notated import Mark, NotatedBar, Notation
from changewright.page._verovio import STAFF_SPACE
from changewright.page.drawing import Box, Drawing, Shape
from changewright.page.look import Face, Look, text_width
from changewright.page.svg import Picture
from changewright.page.symbol import Run, figure_text, symbol_runs
from changewright.page.text import Text, moved, set_text

__all__ = ["System", "lay_out"]

_SPACE = STAFF_SPACE
_CLEAR = 0.6 * _SPACE  # between text and the nearest sign
_BESIDE = 1.2 * _SPACE  # a triplet's 3 right after a symbol would read as part of it
_OVER = 1.7 * _SPACE  # least height of the symbols' base line above the staff
_UNDER = 1.3 * _SPACE  # least room between staff and figures
_MARGIN = 0.35 * _SPACE
_FRAME = 0.1 * _SPACE  # half the line of a frame, and a hair
_APART = 0.22 * _SPACE  # least room between texts of one row
_ROOMY = 0.5 * _SPACE  # and what a reader would like there
_ROW_UNDER = ("figure", "cue")
_ROWS_OVER = (("symbol",), ("symbol", "number", "label"))


@dataclass(frozen=True, slots=True)
class System:
    """One system: its frame, the engraver's shapes and our text; ``bars`` are its bars, ``edges``
    where each begins and ends."""

    width: float
    frame: Box
    shapes: tuple[Shape, ...]
    texts: tuple[Text, ...]
    bars: tuple[NotatedBar, ...]
    staff: tuple[float, float]
    edges: tuple[tuple[float, float], ...] = ()

    @property
    def picture(self) -> Picture:
        """The system as something to draw."""
        return Picture(self.width, self.frame, self.shapes, self.texts)

    @property
    def height(self) -> float:
        """The height of the frame."""
        return self.frame.bottom - self.frame.top

    @property
    def is_crowded(self) -> bool:
        """True where signs or texts stand too close to be read: fewer bars should share it."""
        outside = any(t.box.left < 0 or t.box.right > self.width for t in self.texts)
        touch = any(_texts_touch(self.texts, row) for row in (_ROW_UNDER, *_ROWS_OVER))
        return outside or touch or _columns_touch(self.shapes)

    @property
    def figures_are_tight(self) -> bool:
        """True where what stands under the notes comes close to running together."""
        return _texts_touch(self.texts, _ROW_UNDER, _ROOMY)


def lay_out(
    drawing: Drawing,
    notation: Notation,
    bars: Sequence[NotatedBar],
    look: Look,
    squeeze: float = 1,
) -> System:
    """Set symbols over, figures under, bar number and rehearsal letter beside.

    ``squeeze`` sets symbols and figures smaller, for a bar that holds more than a bar should.
    """
    look = replace(
        look,
        symbol_size=look.symbol_size * squeeze,
        figure_size=look.figure_size * squeeze,
    )
    drawing = replace(drawing, shapes=list(drawing.shapes))  # the setter adds to it
    setter = _Setter(drawing, notation, bars, look)
    triplets = tuple(setter.triplets())
    setter.bracket_phrases()
    texts = (*triplets, *setter.over(), *setter.under())
    shapes = tuple(drawing.shapes)
    boxes = [s.box for s in shapes] + [t.box for t in texts]
    top = min(b.top for b in boxes) - _MARGIN
    bottom = max(b.bottom for b in boxes) + _MARGIN
    frame = Box(0, top, drawing.width, bottom)
    staff, edges = (drawing.top, drawing.bottom), tuple(drawing.bars)
    return System(drawing.width, frame, shapes, texts, tuple(bars), staff, edges)


class _Setter:
    """Sets the text of one system; positions come from the drawing, content from the bars."""

    def __init__(
        self, drawing: Drawing, notation: Notation, bars: Sequence[NotatedBar], look: Look
    ) -> None:
        self._drawing = drawing
        self._bars = bars
        self._look = look
        self._first = next(i for i, b in enumerate(notation.bars) if b is bars[0])
        self._phrases = notation.phrases
        self._hand = look.name == "handwritten"
        self._over: list[Box] = []  # what stands out of the staff, above and below
        self._under: list[Box] = []
        self._seen = 0  # how many shapes were looked at

    def triplets(self) -> Iterator[Text]:
        """The figure 3 over each triplet, bracketed unless one beam holds it together."""
        for offset, bar in enumerate(self._bars):
            numbered = list(enumerate(bar.marks))
            for _, group in groupby(numbered, key=lambda m: m[1].value.triplet):
                members = [(p, m) for p, m in group if m.value.triplet is not None]
                if any(not m.open for _, m in members):
                    yield self._triplet(members, self._first + offset)

    def _triplet(self, members: list[tuple[int, Mark]], number: int) -> Text:
        boxes = [
            s.box
            for s in self._drawing.shapes
            for place, _ in members
            if s.owner in (f"n{number}-{place}", f"r{number}-{place}") and s.kind != "accid"
        ]
        left, right = min(b.left for b in boxes), max(b.right for b in boxes)
        size = 1.75 * _SPACE
        face = self._look.number
        x = (left + right - text_width("3", face, size)) / 2
        text = self._text("triplet", x, size, face, (Run("3"),))
        spanned = replace(text, box=text.box._replace(left=left, right=right))
        y = min(self._drawing.top - 0.3 * _SPACE, self._ceiling(spanned) + 0.15 * _SPACE)
        placed = moved(text, y)
        if len({m.beam for _, m in members}) > 1 or members[0][1].beam is None:
            self._bracket(left, right, placed.box)
        box = placed.box
        beside = box._replace(left=box.left - _BESIDE, right=box.right + _BESIDE)
        self._drawing.shapes.append(Shape("triplet", "", beside, path="", filled=False))
        return placed

    def _bracket(self, left: float, right: float, box: Box) -> None:
        """A bracket at half the height of the figure, open around it."""
        y, hook = (box.top + box.bottom) / 2, 0.5 * _SPACE
        gap = 0.35 * _SPACE
        path = (
            f"M{left:.0f} {y + hook:.0f}V{y:.0f}H{box.left - gap:.0f}"
            f"M{box.right + gap:.0f} {y:.0f}H{right:.0f}V{y + hook:.0f}"
        )
        frame = Box(left, y, right, y + hook)
        self._drawing.shapes.append(Shape("bracket", "", frame, None, (0, 0, 1), path, 20, False))

    def bracket_phrases(self) -> None:
        """A bracket over each phrase that the sheet quotes, open where it goes on elsewhere."""
        heads = self._drawing.heads()
        for phrase in self._phrases:
            inside = [
                (heads[f"n{self._first + offset}-{place}"], mark.source.onset)
                for offset, bar in enumerate(self._bars)
                for place, mark in enumerate(bar.marks)
                if mark.source is not None and mark.source.onset in phrase
            ]
            if inside:
                (first, start), (last, end) = inside[0], inside[-1]
                self._phrase(first.left, last.right, start == phrase[0], end == phrase[-1])

    def _phrase(self, left: float, right: float, opens: bool, closes: bool) -> None:
        near = (s for s in self._drawing.shapes if s.box.left < right and s.box.right > left)
        top = min((s.box.top for s in near), default=self._drawing.top)
        y, hook = min(top, self._drawing.top) - 1.1 * _SPACE, 0.7 * _SPACE
        start = f"M{left:.0f} {y + hook:.0f}V{y:.0f}" if opens else f"M{left:.0f} {y:.0f}"
        path = f"{start}H{right:.0f}" + (f"V{y + hook:.0f}" if closes else "")
        box = Box(left, y, right, y + hook)
        self._drawing.shapes.append(Shape("phrase", "", box, None, (0, 0, 1), path, 26, False))

    def over(self) -> Iterator[Text]:
        """The row above: bar number, rehearsal letters and chord symbols on one base line."""
        row = list(self._symbols())
        number = self._number()
        labels = [*self._labels(number), *self._times()]
        beside = bool(self._bars[0].bar.label) and _is_free(labels[0], row)
        if number is not None and not beside:
            number = moved(number, min(self._drawing.top - _CLEAR, self._ceiling(number)))
            self._drawing.shapes.append(Shape("number", "", number.box, filled=False))
            yield number
            labels = [*self._labels(None), *self._times()]
        fits = [t for t in labels if _is_free(t, row)]
        row += fits
        if number is not None and beside:
            row.append(number)
        y = min([self._drawing.top - _OVER, *(self._ceiling(t) for t in row)])
        placed = [moved(t, y) for t in row]
        yield from placed
        top = min((t.box.top for t in placed), default=y)
        for text in labels:
            if text not in fits:
                yield moved(text, top - _CLEAR - text.box.bottom)

    def _symbols(self) -> Iterator[Text]:
        size = self._look.symbol_size * _SPACE
        for offset, bar in enumerate(self._bars):
            for place, symbol in enumerate(bar.chords):
                anchor = self._drawing.anchors.get(f"h{self._first + offset}-{place}")
                if anchor is not None:
                    runs = symbol_runs(symbol.chord, self._hand, self._look.chords)
                    yield self._text("symbol", anchor[0], size, self._look.symbol, runs)

    def _number(self) -> Text | None:
        number = self._bars[0].bar.number
        if number <= 1:
            return None
        size = 1.7 * _SPACE
        return self._text("number", _FRAME, size, self._look.number, (Run(str(number)),))

    def _labels(self, number: Text | None) -> Iterator[Text]:
        size, pad = 2.5 * _SPACE, 0.42 * _SPACE
        before = ""
        for (left, _), bar in zip(self._drawing.bars, self._bars, strict=True):
            if bar.bar.label in ("", before):  # a vamp that goes on needs no second letter
                continue
            before = bar.bar.label
            x = left + pad + _FRAME
            if number is not None and bar is self._bars[0]:
                x = number.box.right + pad + _CLEAR
            yield self._text("label", x, size, self._look.symbol, (Run(bar.bar.label),), pad)

    def _times(self) -> Iterator[Text]:
        """How often a passage is played, at its end, where it is more than twice."""
        size = 1.9 * _SPACE
        for (_, right), bar in zip(self._drawing.bars, self._bars, strict=True):
            if bar.times > 2:
                runs = (Run(f"{bar.times}x"),)
                width = text_width(runs[0].text, self._look.symbol, size)
                yield self._text("times", right - width - _FRAME, size, self._look.symbol, runs)

    def under(self) -> Iterator[Text]:
        """The row below: degree figures, and targets for the student to find, boxed."""
        row = [*self._figures(), *self._cues()]
        cap = self._look.figure_size * _SPACE * self._look.cap
        y = max(
            [self._drawing.bottom + _UNDER + cap, *(self._floor(t) for t in row)],
        )
        yield from (moved(t, y) for t in row)

    def _figures(self) -> Iterator[Text]:
        heads = self._drawing.heads()
        size, face = self._look.figure_size * _SPACE, self._look.figure
        for offset, bar in enumerate(self._bars):
            for place, mark in enumerate(bar.marks):
                text = figure_text(mark.figure) if mark.figure is not None else mark.hint
                if not text:
                    continue
                head = heads[f"n{self._first + offset}-{place}"]
                x = (head.left + head.right - text_width(text, face, size)) / 2
                yield self._text("figure", x, size, face, (Run(text),))

    def _cues(self) -> Iterator[Text]:
        size, face = self._look.figure_size * _SPACE, self._look.figure
        for offset, bar in enumerate(self._bars):
            for place, cue in enumerate(bar.cues):
                x, _ = self._drawing.anchors[f"q{self._first + offset}-{place}"]
                text = " ".join(figure_text(d) for d in cue.degrees)
                yield self._text("cue", x, size, face, (Run(text),), 0.3 * _SPACE)

    def _text(
        self, kind: str, x: float, size: float, face: Face, runs: tuple[Run, ...], pad: float = 0
    ) -> Text:
        return set_text(kind, x, size, face, runs, cap=self._look.cap, pad=pad)

    def _ceiling(self, text: Text) -> float:
        """The lowest base line at which a text above stays clear of what lies under it."""
        self._look_round()
        left, right = text.box.left - _CLEAR / 2, text.box.right + _CLEAR / 2
        tops = [box.top for box in self._over if box.left < right and box.right > left]
        return min(tops, default=self._drawing.top) - _CLEAR - text.box.bottom

    def _floor(self, text: Text) -> float:
        """The highest base line at which a text below stays clear of what lies over it."""
        self._look_round()
        left, right = text.box.left - _CLEAR / 2, text.box.right + _CLEAR / 2
        bottoms = [box.bottom for box in self._under if box.left < right and box.right > left]
        return max(bottoms, default=self._drawing.bottom) + _CLEAR - text.box.top

    def _look_round(self) -> None:
        """Find what stands out of the staff, above and below. PITFALL: the drawing may have grown;
        and to ask of every text about all that is inside the staff takes half of laying out."""
        shapes, top, bottom = self._drawing.shapes, self._drawing.top, self._drawing.bottom
        if self._seen == len(shapes):
            return
        grown = [shape.box for shape in shapes[self._seen :]]
        self._seen = len(shapes)
        self._over += [box for box in grown if box.top < top]
        self._under += [box for box in grown if box.bottom > bottom]


def _is_free(text: Text, row: Sequence[Text]) -> bool:
    return not any(text.box.meets(other.box, _CLEAR) for other in row)


def _texts_touch(texts: Sequence[Text], kinds: Sequence[str], room: float = _APART) -> bool:
    """True where neighbours in a row leave less than so much room."""
    row = sorted((t for t in texts if t.kind in kinds), key=lambda t: t.box.left)
    return any(a.box.meets(b.box, room) for a, b in pairwise(row))


def _columns_touch(shapes: Iterable[Shape]) -> bool:
    """True where a note head or accidental runs into its neighbour; the notes of one chord may."""
    kinds, room = ("notehead", "accid", "rest", "dots"), 0.04 * _SPACE
    row = sorted((s for s in shapes if s.kind in kinds), key=lambda s: s.box.left)
    for place, shape in enumerate(row):
        for other in row[place + 1 :]:
            if other.box.left >= shape.box.right + room:
                break
            if shape.box.meets(other.box, room) and _column(shape) != _column(other):
                return True
    return False


def _column(shape: Shape) -> str:
    """The id of a note, or of the chord that it stands in: ``n3-2`` for ``n3-2-1``."""
    return "-".join(shape.owner.split("-")[:2])
