"""Solve a player's trellis so that the band never stops."""

from changewright.errors import Refusal
from changewright.line.trellis import Solution, Trellis

__all__ = ["solved"]


def solved(trellis: Trellis) -> Solution:
    """Solve a trellis; where its rules collide, drop them one by one, the last first.

    A composer refuses and says why; a player on the stand lets his hand jump and plays on.
    """
    while True:
        try:
            return trellis.solve()
        except Refusal:
            if not trellis.grammar.rules:
                raise
            trellis = trellis.without(trellis.grammar.rules[-1].name)
