"""The processes of a studio: some listen to takes, one of them while they are played; one makes
lessons, one moves exercises to another tempo or key, one makes books.

What a player waits for at the stop of a take is as urgent as a page; another take comes next, then
a lesson, and a book last.
"""

from dataclasses import dataclass

from changewright.jobs.bounded import Bounded, Hand
from changewright.jobs.running import core_count
from changewright.jobs.turns import Turns

__all__ = ["LONGEST_BOOK_S", "Hands", "at_once", "local_hands", "warm"]

_MOST_EARS = 4
_WAITED_FOR, _LISTENING, _MAKING, _PRINTING = 0, 5, 10, 15


LONGEST_BOOK_S = 2 * 3600.0
"""How long a book may take, in seconds: a course with all its tracks on one slow core."""


@dataclass(frozen=True, slots=True)
class Hands:
    """Who does what takes long: ``ear`` listens, ``maker`` composes, engraves and sounds,
    ``follower`` listens to takes while they are played, ``mover`` moves an exercise to another
    tempo or key while its player waits, ``press`` makes books."""

    ear: Turns
    maker: Turns
    follower: Turns
    mover: Turns
    press: Turns


def local_hands(ears: int | None = None) -> Hands:
    """Processes of this machine: as many ears as there are cores, four at most, and one each of
    the others, which begin when they are first needed."""
    count = max(1, min(core_count(), _MOST_EARS)) if ears is None else ears
    return Hands(
        Turns([Bounded(niceness=_LISTENING) for _ in range(count)]),
        Turns([Bounded(niceness=_MAKING)]),
        Turns([Bounded(niceness=_WAITED_FOR)]),
        Turns([Bounded(niceness=_LISTENING)]),
        Turns([Bounded(niceness=_PRINTING, longest_s=LONGEST_BOOK_S)]),
    )


def at_once() -> Hands:
    """No processes: whoever asks does it himself and waits."""
    return Hands(Turns(), Turns(), Turns(), Turns(), Turns())


def warm(hand: Hand) -> None:
    """Load the ear's engines before the first take comes."""
    hand.do(_listen_to_a_tone)


def _listen_to_a_tone() -> None:
    """PITFALL: where nothing sounds, not every network is asked."""
    import numpy as np

    from changewright.ear.live import LiveTake
    from changewright.theory.instrument import instrument
    from changewright.usecases import hear_live, roster  # noqa: F401 - what a take asks for next

    live = LiveTake(24_000, instrument=instrument("flute"))
    live.push(np.sin(2 * np.pi * 440 / 24_000 * np.arange(48_000)).astype(np.float32))
    live.finish()
