"""An exercise for a screen: its systems, with a field behind each bar that can be lit."""

from collections.abc import Iterator

from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from changewright.music.systems import BARS_A_SYSTEM
from changewright.page._verovio import STAFF_WIDTH
from changewright.page.engraving import engrave_notation
from changewright.page.look import LookName, look_of
from changewright.page.svg import picture_svg
from changewright.page.system import System
from changewright.page.words import describe_bars

__all__ = ["screen_svg"]


def screen_svg(
    sheet: Sheet,
    *,
    look: LookName = "plain",
    answers: bool = False,
    bars_a_system: int = BARS_A_SYSTEM,
) -> tuple[str, ...]:
    """Draw one exercise for a screen of any width, an SVG a system; the page supplies the fonts.

    Fewer bars a system are drawn larger, so that a phone can be read. Behind each bar lies a
    ``<rect class="bar" data-bar="3">`` without a fill, for a cursor.
    """
    notation = notate(sheet, answers=answers)
    width = STAFF_WIDTH * max(1, min(bars_a_system, BARS_A_SYSTEM)) // BARS_A_SYSTEM
    systems = engrave_notation(
        notation, look_of(look), bars_a_system=bars_a_system, width=max(width, STAFF_WIDTH // 3)
    )
    return tuple(
        picture_svg(s.picture, title=describe_bars(s.bars), under="".join(_fields(s)))
        for s in systems
    )


def _fields(system: System) -> Iterator[str]:
    """A field for each bar, as high as its system."""
    frame = system.frame
    for bar, (left, right) in zip(system.bars, system.edges, strict=True):
        yield (
            f'<rect class="bar" data-bar="{bar.bar.number}" fill="none" x="{left:.0f}" '
            f'y="{frame.top:.0f}" width="{right - left:.0f}" height="{system.height:.0f}"/>'
        )
