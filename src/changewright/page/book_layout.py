"""Which systems of a book stand on which page, the same in every edition. Lengths are mm."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

__all__ = ["Block", "Slot", "paginate", "taken_mm"]

LEAST_GAP_MM = 1.4
LEAST_BETWEEN_MM = 4.5


@dataclass(frozen=True, slots=True)
class Block:
    """An exercise as a printer sees it: a head, rows of music, and what stands under them.

    ``turns`` says of each row whether the player rests at its end and can turn a page.
    """

    head_mm: float
    rows_mm: tuple[float, ...]
    tail_mm: float
    turns: tuple[bool, ...] = ()

    def height_mm(self, start: int = 0, end: int | None = None) -> float:
        """The least height of rows ``start`` up to ``end``, head and tail where they belong."""
        rows = self.rows_mm[start:end]
        head = self.head_mm if start == 0 else 0.0
        tail = self.tail_mm if end is None or end == len(self.rows_mm) else 0.0
        return head + sum(rows) + LEAST_GAP_MM * len(rows) + tail


@dataclass(frozen=True, slots=True)
class Slot:
    """Rows of one exercise on one page: the number of its block, and its rows, half-open."""

    block: int
    start: int
    end: int


def paginate(blocks: Sequence[Block], height_mm: float, first_page: int = 1) -> list[list[Slot]]:
    """Fill pages in order, the first of them page ``first_page``. No exercise is split that fits on
    a page; one that does not keeps two rows together at least, and where the page has to be turned
    breaks where the player rests if it can. The page beside a left one is not turned to."""
    pages: list[list[Slot]] = []
    free = 0.0
    for number, block in enumerate(blocks):
        needed = block.height_mm()
        beside = LEAST_BETWEEN_MM if pages and pages[-1] else 0.0
        if pages and needed + beside <= free:
            pages[-1].append(Slot(number, 0, len(block.rows_mm)))
            free -= needed + beside
            continue
        start = 0
        for end in _cuts(block, height_mm, first_page + len(pages)):
            pages.append([Slot(number, start, end)])
            free = height_mm - block.height_mm(start, end)
            start = end
    return pages


def _cuts(block: Block, height_mm: float, page: int) -> Iterator[int]:
    """Where each page of a block that begins on ``page`` ends, the last at its last row."""
    start, count = 0, len(block.rows_mm)
    while block.height_mm(start) > height_mm and count - start > 1:
        fitting = [
            end for end in range(start + 1, count) if block.height_mm(start, end) <= height_mm
        ]
        ends = [e for e in fitting if e - start >= 2 and count - e >= 2] or fitting or [start + 1]
        # The fullest right-hand page that ends in a rest, if that leaves it two thirds full.
        resting = [e for e in ends if block.turns[e - 1 : e] == (True,) and 3 * e >= 2 * ends[-1]]
        is_turned = page % 2 == 1
        start = resting[-1] if resting and is_turned else ends[-1]
        page += 1
        yield start
    yield count


def taken_mm(blocks: Sequence[Block], page: Sequence[Slot]) -> float:
    """The least height that a page's slots take."""
    heights = (blocks[s.block].height_mm(s.start, s.end) for s in page)
    return sum(heights) + LEAST_BETWEEN_MM * (len(page) - 1)
