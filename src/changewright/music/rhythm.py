"""How notated time is written: note values, ties, tuplets, rests and beams, by the meter.

Everything is exact and in quarters from the bar line. Source for the splitting and beaming
rules: common practice, no source (the middle of a bar in four is shown; a syncopation may
hide one weaker beat; rests never hide a beat; compound meters group by dotted beats).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from changewright.music.bar import Meter, Quarters

__all__ = ["Edge", "Grid", "Piece", "Stroke", "Value", "beams", "grid_of", "values"]

_PLAIN = tuple(Fraction(n, d) for n, d in ((4, 1), (2, 1), (1, 1), (1, 2), (1, 4), (1, 8), (1, 16)))
_EIGHTH = Fraction(1, 2)
_SPANS = {1: (1,), 2: (2,), 3: (3,), 4: (2, 2), 5: (3, 2), 6: (3, 3), 7: (4, 3)}


@dataclass(frozen=True, slots=True)
class Value:
    """A written note value: ``base`` in quarters (4 is a whole note), dots, and, inside a
    triplet, the number of the triplet within its bar. ``whole_bar`` is a whole rest standing
    for any bar."""

    base: Quarters
    dots: int = 0
    triplet: int | None = None
    whole_bar: bool = False

    def __hash__(self) -> int:
        return hash((*self.base.as_integer_ratio(), self.dots, self.triplet))

    @property
    def written(self) -> Quarters:
        """The length as written, before a triplet shortens it."""
        return self.base * (2 - Fraction(1, 2**self.dots))


Piece = tuple[Quarters, Quarters, Value]
"""Onset from the bar line, sounding duration, and how it is written."""

Edge = tuple[Quarters, Quarters, bool]
"""Start and end from the bar line, and whether it is a rest."""


@dataclass(frozen=True, slots=True)
class Grid:
    """The beats of a bar as lengths, and how many of them make each half (or third) of it."""

    beats: tuple[Quarters, ...]
    spans: tuple[int, ...]

    def __hash__(self) -> int:
        return hash((*(beat.as_integer_ratio() for beat in self.beats), self.spans))

    @property
    def starts(self) -> tuple[Quarters, ...]:
        """Where each beat begins."""
        return tuple(sum(self.beats[:i], Fraction(0)) for i in range(len(self.beats)))

    @property
    def span_indices(self) -> tuple[tuple[int, int], ...]:
        """The beats of each span as half-open index pairs."""
        ends = [sum(self.spans[: i + 1]) for i in range(len(self.spans))]
        return tuple(zip([0, *ends], ends, strict=False))


@lru_cache(maxsize=1024)
def grid_of(meter: Meter, length: Quarters, changes: tuple[Quarters, ...] = ()) -> Grid:
    """The grid of a bar by its meter.

    Compound meters count dotted beats. Five and seven divide where the chord changes, else three
    before two and four before three. A pickup keeps the end of the full bar's beats.
    """
    beats, spans = _full_grid(meter, changes)
    missing = meter.length - length
    while missing > 0 and len(beats) > 0:
        taken = min(beats[0], missing)
        missing -= taken
        if taken < beats[0]:
            beats = (beats[0] - taken, *beats[1:])
        else:
            beats = beats[1:]
            spans = (spans[0] - 1, *spans[1:]) if spans[0] > 1 else spans[1:]
    return Grid(beats, spans) if beats else Grid((length,), (1,))


def _full_grid(
    meter: Meter, changes: Sequence[Quarters]
) -> tuple[tuple[Quarters, ...], tuple[int, ...]]:
    count, beat = meter.beats, meter.beat
    if meter.unit >= 8 and count % 3 == 0:
        count, beat = count // 3, 3 * beat
    elif meter.unit >= 8 and count in (5, 7):
        sizes = {5: (3, 2), 7: (2, 2, 3)}[count]
        return tuple(n * beat for n in sizes), (1,) * len(sizes)
    spans = _SPANS.get(count, (2,) * (count // 2) + (1,) * (count % 2))
    if len(spans) == 2 and spans[1] * beat in changes and spans[0] * beat not in changes:
        spans = spans[::-1]
    return (beat,) * count, spans


@lru_cache(maxsize=256)
def _tree(grid: Grid) -> "_Node":
    beats = tuple(_beat(s, b) for s, b in zip(grid.starts, grid.beats, strict=True))
    return _bundle([_bundle(beats[a:b]) for a, b in grid.span_indices])


def _bundle(parts: Sequence["_Node"]) -> "_Node":
    if len(parts) == 1:
        return parts[0]
    return _Node(parts[0].start, parts[-1].end, tuple(parts))


@dataclass(frozen=True, slots=True)
class _Node:
    """A stretch of the bar with its parts; a leaf has none."""

    start: Quarters
    end: Quarters
    parts: tuple["_Node", ...] = ()


def _beat(start: Quarters, length: Quarters) -> _Node:
    if length <= Fraction(1, 8):
        return _Node(start, start + length)
    count = 3 if length.numerator == 3 else 2
    size = length / count
    parts = tuple(_beat(start + i * size, size) for i in range(count))
    return _Node(start, start + length, parts)


def _value(duration: Quarters) -> Value | None:
    for base in _PLAIN:
        if duration == base:
            return Value(base)
        if duration == base * Fraction(3, 2) and base > Fraction(1, 16):
            return Value(base, 1)
    return None


def _split(start: Quarters, end: Quarters, node: _Node, rest: bool) -> Iterator[Piece]:
    """One value where it can be read at a glance, else cut at the strongest inner beat."""
    inside = [p for p in node.parts if p.start <= start and end <= p.end]
    if inside:
        yield from _split(start, end, inside[0], rest)
        return
    value = _value(end - start)
    if value is not None and _readable(start, end, node, rest):
        yield start, end - start, value
        return
    cuts = [p.start for p in node.parts if start < p.start < end]
    if not cuts:  # finer than the tree: a sixty-fourth or rarer, kept whole
        yield start, end - start, value or Value(_PLAIN[-1])
        return
    on_grid = any(p.start == start for p in node.parts)
    cut = cuts[-1] if on_grid else cuts[0]
    yield from _split(start, cut, node, rest)
    yield from _split(cut, end, node, rest)


def _readable(start: Quarters, end: Quarters, node: _Node, rest: bool) -> bool:
    if not node.parts:
        return True
    grid = {p.start for p in node.parts} | {node.end}
    if start in grid and end in grid:
        return not rest or (start, end) == (node.start, node.end) or _rest_fits(start, end, node)
    return not rest and _syncopates(start, end, node)


def _rest_fits(start: Quarters, end: Quarters, node: _Node) -> bool:
    """A rest shorter than its stretch is plain and begins where its own length divides it."""
    size = end - start
    return _value(size) == Value(size) and (start - node.start) % size == 0


def _syncopates(start: Quarters, end: Quarters, node: _Node) -> bool:
    """Off the beat at either end, a note may hide one inner beat of an even division."""
    sizes = {p.end - p.start for p in node.parts}
    size = min(sizes)
    crossed = sum(start < p.start < end for p in node.parts)
    on_half = all((at - node.start) % (size / 2) == 0 for at in (start, end))
    return len(sizes) == 1 and size.numerator != 3 and crossed <= 1 and on_half


def values(edges: Sequence[Edge], grid: Grid) -> tuple[tuple[Piece, ...], ...]:
    """Write each stretch of a bar as one or more values, tied where it is a note.

    ``edges`` tile the bar. A beat (or pair of beats) with thirds inside becomes a triplet.
    """
    ratios = tuple(
        (*start.as_integer_ratio(), *end.as_integer_ratio(), rest) for start, end, rest in edges
    )
    return _values(ratios, grid)


# PITFALL: the hash of a fraction takes ten times that of its two whole numbers, and every bar of a
# book is looked up here.
@lru_cache(maxsize=1024)
def _values(
    ratios: tuple[tuple[int, int, int, int, bool], ...], grid: Grid
) -> tuple[tuple[Piece, ...], ...]:
    edges = [(Fraction(a, b), Fraction(c, d), rest) for a, b, c, d, rest in ratios]
    if len(edges) == 1 and edges[0][2]:
        return (((Fraction(0), edges[0][1], Value(Fraction(4), whole_bar=True)),),)
    tree = _tree(grid)
    windows = _triplets(edges, grid)
    return tuple(tuple(_stretch(edge, tree, windows)) for edge in edges)


def _triplets(edges: Sequence[Edge], grid: Grid) -> list[tuple[Quarters, Quarters]]:
    """The stretches that are written as triplets: beats with thirds; two beats where the third
    falls across the beat between them."""
    marks = sorted({at for edge in edges for at in edge[:2]})
    thirds = [m for m in marks if m.denominator % 3 == 0]
    windows: list[tuple[Quarters, Quarters]] = []
    start = Fraction(0)
    for size in grid.beats:
        if any(start < m < start + size for m in thirds):
            last = windows[-1] if windows else None
            if last and last[1] == start and start not in marks and last[1] - last[0] == size:
                windows[-1] = (last[0], start + size)
            else:
                windows.append((start, start + size))
        start += size
    return windows


def _stretch(
    edge: Edge, tree: _Node, windows: Sequence[tuple[Quarters, Quarters]]
) -> Iterator[Piece]:
    at, end, rest = edge
    for number, (low, high) in enumerate(windows):
        if high <= at or low >= end:
            continue
        if at < low:
            yield from _split(at, low, tree, rest)
            at = low
        upto = min(end, high)
        yield from _inside_triplet(at, upto, low, high, rest, number)
        at = upto
    if at < end:
        yield from _split(at, end, tree, rest)


def _inside_triplet(
    start: Quarters, end: Quarters, low: Quarters, high: Quarters, rest: bool, number: int
) -> Iterator[Piece]:
    """Stretch the window by a half, write it as three plain parts, and shrink it again."""
    stretch = Fraction(3, 2)
    size = (high - low) / 2
    parts = tuple(_beat(i * size, size) for i in range(3))
    tree = _Node(Fraction(0), 3 * size, parts)
    for at, duration, value in _split((start - low) * stretch, (end - low) * stretch, tree, rest):
        yield low + at / stretch, duration / stretch, replace(value, triplet=number)


Stroke = tuple[Quarters, Quarters, Value, bool]
"""Onset, duration and value of a sign, and whether it sounds."""


def beams(strokes: Sequence[Stroke], grid: Grid) -> tuple[int | None, ...]:
    """Number the beams of a bar: eighths and shorter, joined within the beat; plain eighths
    within the half bar of four, or the whole bar of three. None for signs without a beam."""
    return _beams(
        tuple(
            (*onset.as_integer_ratio(), *size.as_integer_ratio(), value, sounds)
            for onset, size, value, sounds in strokes
        ),
        grid,
    )


@lru_cache(maxsize=1024)
def _beams(
    ratios: tuple[tuple[int, int, int, int, Value, bool], ...], grid: Grid
) -> tuple[int | None, ...]:
    strokes = [(Fraction(a, b), Fraction(c, d), value, on) for a, b, c, d, value, on in ratios]
    starts = _beam_starts(strokes, grid)
    runs: list[list[int]] = [[]]
    for index, (onset, _, value, sounds) in enumerate(strokes):
        if not sounds or value.base > _EIGHTH:
            runs.append([])
            continue
        run = runs[-1]
        if run and _span(strokes[run[-1]][0], starts) != _span(onset, starts):
            runs.append([])
        runs[-1].append(index)
    found: list[int | None] = [None] * len(strokes)
    for number, run in enumerate(run for run in runs if len(run) > 1):
        for index in run:
            found[index] = number
    return tuple(found)


def _span(onset: Quarters, starts: Sequence[Quarters]) -> int:
    return sum(start <= onset for start in starts)


def _beam_starts(strokes: Sequence[Stroke], grid: Grid) -> list[Quarters]:
    """Where a new beam must begin."""
    starts = grid.starts
    found: list[Quarters] = []
    for first, last in grid.span_indices:
        low, high = starts[first], starts[last - 1] + grid.beats[last - 1]
        inside = [v for onset, size, v, _ in strokes if onset < high and onset + size > low]
        plain = all(v.base >= _EIGHTH and v.triplet is None for v in inside)
        joins = plain and all(size == 1 for size in grid.beats[first:last])
        found += [low] if joins else starts[first:last]
    return found
