"""An exercise as systems: how many bars share one, and what each looks like."""

from collections.abc import Sequence

from changewright.music.notated import NotatedBar, Notation
from changewright.music.systems import BARS_A_SYSTEM, chunks, sections
from changewright.page._verovio import STAFF_WIDTH, engrave
from changewright.page.drawing import Drawing, read_drawings
from changewright.page.look import Look
from changewright.page.mei import mei_of
from changewright.page.system import System, lay_out

__all__ = ["engrave_alike", "engrave_notation"]

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
    return engrave_alike([notation], look, bars_a_system=bars_a_system, width=width)[0]


def engrave_alike(
    notations: Sequence[Notation],
    look: Look,
    *,
    bars_a_system: int = BARS_A_SYSTEM,
    width: int = STAFF_WIDTH,
) -> list[tuple[System, ...]]:
    """Engrave the same bars for several readers, with the same bars on each system for all."""
    sizes = [bars_a_system] * len(sections(notations[0].bars))
    while True:
        attempts = [_attempt(notation, look, sizes, width) for notation in notations]
        tight = {owner for _, crowded in attempts for owner in crowded}
        if not tight:
            return [systems for systems, _ in attempts]
        rows, owners = _rows(notations[0], sizes)
        sizes = [_fewer(rows, owners, n) if n in tight else size for n, size in enumerate(sizes)]


def _attempt(
    notation: Notation, look: Look, sizes: Sequence[int], width: int
) -> tuple[tuple[System, ...], set[int]]:
    """The systems that could be drawn, and the sections in which one is too full."""
    rows, owners = _rows(notation, sizes)
    full = _width(rows, max(sizes), width)
    systems = _systems(notation, look, rows, full, figures=False)
    if any(system is not None and system.figures_are_tight for system in systems):
        systems = _systems(notation, look, rows, full, figures=True)
    tight = {
        owner
        for system, row, owner in zip(systems, rows, owners, strict=True)
        if len(row) > 1 and (system is None or system.is_crowded)
    }
    return tuple(system for system in systems if system is not None), tight


def _fewer(rows: Sequence[Sequence[NotatedBar]], owners: Sequence[int], section: int) -> int:
    """One bar a system less than the longest system of a section had."""
    return max(len(r) for r, o in zip(rows, owners, strict=True) if o == section) - 1


def _rows(
    notation: Notation, sizes: Sequence[int]
) -> tuple[list[tuple[NotatedBar, ...]], list[int]]:
    """The bars of each system, and the number of the section that each belongs to."""
    rows: list[tuple[NotatedBar, ...]] = []
    owners: list[int] = []
    for number, (section, size) in enumerate(zip(sections(notation.bars), sizes, strict=True)):
        parts = list(chunks(section, size))
        rows += parts
        owners += [number] * len(parts)
    return rows, owners


def _systems(
    notation: Notation,
    look: Look,
    rows: Sequence[tuple[NotatedBar, ...]],
    width: int,
    *,
    figures: bool,
) -> list[System | None]:
    """Each row laid out, or None; with ``figures`` the notes make room for all their figures."""
    drawn = _drawn(mei_of(notation, rows, look, figures=figures), look, rows, width)
    return [
        None if drawing is None else _laid_out(drawing, notation, row, look)
        for drawing, row in zip(drawn, rows, strict=True)
    ]


def _drawn(
    mei: str, look: Look, rows: Sequence[Sequence[NotatedBar]], width: int
) -> list[Drawing | None]:
    """The drawing of each row; None where the engraver had to break a row that is too full."""
    drawings = iter(read_drawings(engrave(mei, look.music, width)))
    found: list[Drawing | None] = []
    for row in rows:
        first = next(drawings)
        count = len(first.bars)
        while count < len(row):
            count += len(next(drawings).bars)
        found.append(first if len(first.bars) == len(row) else None)
    return found


def _laid_out(
    drawing: Drawing, notation: Notation, bars: tuple[NotatedBar, ...], look: Look
) -> System:
    """Lay a system out; a single bar that is still too full gets smaller letters."""
    system = lay_out(drawing, notation, bars, look)
    if len(bars) > 1:
        return system
    for squeeze in _SQUEEZES:
        if not system.is_crowded:
            break
        system = lay_out(drawing, notation, bars, look, squeeze)
    return system


def _width(rows: Sequence[Sequence[NotatedBar]], usual: int, full: int) -> int:
    """A full line, unless the whole exercise is too short to fill one without looking stretched."""
    longest = max(len(row) for row in rows)
    if len(rows) == 1 and longest <= usual / 2:
        return max(full * (longest + 1) // (usual + 1), full // 3)
    return full
