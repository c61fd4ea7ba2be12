"""An exercise as systems: how many bars share one, and what each looks like."""

from collections.abc import Sequence

from changewright.music.notated import NotatedBar, Notation
from changewright.music.systems import BARS_A_SYSTEM, chunks, sections
from changewright.page._verovio import STAFF_WIDTH, engrave
from changewright.page.drawing import read_drawing
from changewright.page.look import Look
from changewright.page.mei import mei_of
from changewright.page.system import System, lay_out

__all__ = ["engrave_notation"]

_SQUEEZES = (0.85, 0.72, 0.6)


def engrave_notation(
    notation: Notation,
    look: Look,
    *,
    bars_a_system: int = BARS_A_SYSTEM,
    width: int = STAFF_WIDTH,
) -> tuple[System, ...]:
    """Engrave and lay out a whole exercise; crowded sections get fewer bars a system.

    ``width`` is that of a full system in drawing units: fewer units across the same paper make
    larger print.
    """
    sizes = [bars_a_system] * len(sections(notation.bars))
    while True:
        systems, owners = _attempt(notation, look, sizes, width)
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
    notation: Notation, look: Look, sizes: Sequence[int], full: int
) -> tuple[tuple[System, ...], list[int]]:
    rows: list[tuple[NotatedBar, ...]] = []
    owners: list[int] = []
    for number, (section, size) in enumerate(zip(sections(notation.bars), sizes, strict=True)):
        parts = list(chunks(section, size))
        rows += parts
        owners += [number] * len(parts)
    width = _width(rows, max(sizes), full)
    pages = engrave(mei_of(notation, rows, look), look.music, width)
    systems = tuple(
        _laid_out(svg, notation, row, look) for svg, row in zip(pages, rows, strict=True)
    )
    return systems, owners


def _laid_out(svg: str, notation: Notation, bars: tuple[NotatedBar, ...], look: Look) -> System:
    """Lay a system out; a single bar that is still too full gets smaller letters."""
    system = lay_out(read_drawing(svg), notation, bars, look)
    if len(bars) > 1:
        return system
    for squeeze in _SQUEEZES:
        if not system.is_crowded:
            break
        system = lay_out(read_drawing(svg), notation, bars, look, squeeze)
    return system


def _width(rows: Sequence[Sequence[NotatedBar]], usual: int, full: int) -> int:
    """A full line, unless the whole exercise is too short to fill one without looking stretched."""
    longest = max(len(row) for row in rows)
    if len(rows) == 1 and longest <= usual / 2:
        return max(full * (longest + 1) // (usual + 1), full // 3)
    return full
