"""An exercise as systems: how many bars share one, and what each looks like."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from changewright.music.notation import NotatedBar, Notation
from changewright.page._verovio import STAFF_WIDTH, engrave
from changewright.page.drawing import read_drawing
from changewright.page.look import Look
from changewright.page.mei import mei_of
from changewright.page.system import System, lay_out

__all__ = ["BARS_A_SYSTEM", "engrave_notation"]

BARS_A_SYSTEM = 4
"""Four bars a system where they fit. Source: common practice, no source."""

Rows = tuple[tuple[NotatedBar, ...], ...]


def engrave_notation(
    notation: Notation, look: Look, *, bars_a_system: int = BARS_A_SYSTEM
) -> tuple[System, ...]:
    """Engrave and lay out a whole exercise; crowded sections get fewer bars a system."""
    sizes = [bars_a_system] * len(_sections(notation.bars))
    while True:
        systems, owners = _attempt(notation, look, sizes)
        tight = {
            o for s, o in zip(systems, owners, strict=True) if s.is_crowded and len(s.bars) > 1
        }
        if not tight:
            return systems
        longest = {
            o: max(len(s.bars) for s, w in zip(systems, owners, strict=True) if w == o)
            for o in tight
        }
        sizes = [longest[i] - 1 if i in tight else size for i, size in enumerate(sizes)]


def _attempt(
    notation: Notation, look: Look, sizes: Sequence[int]
) -> tuple[tuple[System, ...], list[int]]:
    rows: list[tuple[NotatedBar, ...]] = []
    owners: list[int] = []
    for number, (section, size) in enumerate(zip(_sections(notation.bars), sizes, strict=True)):
        chunks = list(_chunks(section, size))
        rows += chunks
        owners += [number] * len(chunks)
    width = _width(rows, max(sizes))
    pages = engrave(mei_of(notation, rows, look), look.music, width)
    systems = tuple(
        lay_out(read_drawing(svg), notation, row, look)
        for svg, row in zip(pages, rows, strict=True)
    )
    return systems, owners


def _width(rows: Sequence[Sequence[NotatedBar]], usual: int) -> int:
    """A full line, unless the whole exercise is too short to fill one without looking stretched."""
    longest = max(len(row) for row in rows)
    if len(rows) == 1 and longest <= usual / 2:
        return max(STAFF_WIDTH * (longest + 1) // (usual + 1), STAFF_WIDTH // 3)
    return STAFF_WIDTH


def _sections(bars: Sequence[NotatedBar]) -> list[tuple[NotatedBar, ...]]:
    """Bars from one rehearsal letter to the next; a new section starts a new system."""
    cuts = [
        0,
        *(i for i, b in enumerate(bars) if i and b.bar.label and i > _pickup(bars)),
        len(bars),
    ]
    return [tuple(bars[a:b]) for a, b in pairwise(cuts)]


def _pickup(bars: Sequence[NotatedBar]) -> int:
    """How many bars at the start are a pickup; a label right after it starts no new system."""
    return 1 if bars[0].bar.number == 0 else 0


def _chunks(bars: Sequence[NotatedBar], size: int) -> Iterator[tuple[NotatedBar, ...]]:
    """Split into systems of ``size`` bars, the last two evened out if the last would be short.

    A pickup rides with the first system.
    """
    extra = _pickup(bars)
    count = len(bars) - extra
    systems = max(1, -(-count // size))
    full = [size] * systems
    full[-1] = count - size * (systems - 1)
    while systems > 1 and full[-1] < max(full) - 1:
        donor = max(i for i, n in enumerate(full) if n == max(full))
        full[donor] -= 1
        full[-1] += 1
    full[0] += extra
    at = 0
    for n in full:
        yield tuple(bars[at : at + n])
        at += n
