"""Which bars share a system: four where they fit, sections beginning on a new one."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from changewright.music.notated import NotatedBar

__all__ = ["BARS_A_SYSTEM", "chunks", "sections"]

BARS_A_SYSTEM = 4
"""Four bars a system where they fit. Source: common practice, no source."""


def sections(bars: Sequence[NotatedBar]) -> list[tuple[NotatedBar, ...]]:
    """Bars from one rehearsal letter to the next; a new section starts a new system.

    A vamp that comes again under the same letter goes on beside itself while a system has room.
    """
    starts = [i for i, b in enumerate(bars) if i and b.bar.label and i > _pickup(bars)]
    cuts = [0]
    for start, end in pairwise([*starts, len(bars)]):
        again = bars[start].bar.label == bars[cuts[-1]].bar.label
        if not again or end - cuts[-1] > BARS_A_SYSTEM:
            cuts.append(start)
    return [tuple(bars[a:b]) for a, b in pairwise([*cuts, len(bars)])]


def _pickup(bars: Sequence[NotatedBar]) -> int:
    """How many bars at the start are a pickup; a label right after it starts no new system."""
    return 1 if bars[0].bar.number == 0 else 0


def chunks(bars: Sequence[NotatedBar], size: int) -> Iterator[tuple[NotatedBar, ...]]:
    """Split into systems of ``size`` bars, the last two evened out if the last would be short.

    A pickup rides with the first system.
    """
    if size < 1:
        raise ValueError(f"a system has at least one bar, not {size}")
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
