"""An exercise for a screen: its systems, with a field behind each bar that can be lit."""

from collections.abc import Iterator

from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from changewright.music.systems import BARS_A_SYSTEM
from changewright.music.written import Hand
from changewright.page._verovio import STAFF_WIDTH
from changewright.page.engraving import engrave_notation
from changewright.page.look import LookName, look_of
from changewright.page.reading import reading_rows
from changewright.page.svg import picture_svg
from changewright.page.system import System
from changewright.page.words import describe_bars
from changewright.reading.model import Reading
from changewright.theory.pitch import Interval

__all__ = ["changes_svg", "screen_svg"]


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


def changes_svg(reading: Reading, *, bars_a_row: int = BARS_A_SYSTEM) -> tuple[str, ...]:
    """Draw a chorus as read, at concert pitch, an SVG a row: symbols, numerals, keys, arrows."""
    hand = Hand(Interval(0, 0), reading.key)
    width = STAFF_WIDTH * max(2, min(bars_a_row, BARS_A_SYSTEM)) // BARS_A_SYSTEM
    rows = reading_rows(reading, hand, look_of("plain"), width=width)
    return tuple(picture_svg(picture, title=words) for picture, words in rows)


def _fields(system: System) -> Iterator[str]:
    """A field for each bar, as high as its system."""
    frame = system.frame
    for bar, (left, right) in zip(system.bars, system.edges, strict=True):
        yield (
            f'<rect class="bar" data-bar="{bar.bar.number}" fill="none" x="{left:.0f}" '
            f'y="{frame.top:.0f}" width="{right - left:.0f}" height="{system.height:.0f}"/>'
        )
