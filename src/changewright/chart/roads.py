"""The order in which written bars are played: repeats, endings, signs and codas.

After a jump back, repeats are not taken again and the last ending is played. Source: common
practice.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from changewright.chart.written import Jump, WrittenBar

__all__ = ["MOST_PLAYED", "Block", "MarkFault", "blocks_of", "check_jumps", "walk"]

MOST_PLAYED = 4000
"""Bars a form may last as played: over two hours at a slow tempo, and still a bounded amount."""


class MarkFault(ValueError):
    """Marks that contradict each other: at which bar (counted from 0), what, and what to do."""

    def __init__(self, index: int, what: str, remedy: str) -> None:
        self.index = index
        self.what = what
        self.remedy = remedy
        super().__init__(what)


@dataclass(frozen=True, slots=True)
class Block:
    """A repeat: bars ``start`` to ``stop`` (half-open), and each ending's numbers and bars."""

    start: int
    stop: int
    times: int
    endings: tuple[tuple[tuple[int, ...], range], ...] = ()

    @property
    def body_stop(self) -> int:
        """Where the part common to all passes stops."""
        return self.endings[0][1].start if self.endings else self.stop

    def ending_of(self, turn: int) -> range:
        """The bars of the ending for this pass, counted from 1; none without endings."""
        nothing = range(self.stop, self.stop)
        return next((bars for numbers, bars in self.endings if turn in numbers), nothing)

    def played(self, at: int, once: bool) -> list[int]:
        """The bars from ``at`` on in playing order; ``once`` takes the last ending only."""
        if at >= self.body_stop:
            bars = next(bars for _, bars in self.endings if at in bars)
            return list(range(at, bars.stop))
        turns = [self.times] if once or at != self.start else range(1, self.times + 1)
        return [i for t in turns for i in (*range(at, self.body_stop), *self.ending_of(t))]


def blocks_of(bars: Sequence[WrittenBar]) -> tuple[Block, ...]:
    """Find the repeats; raises :class:`MarkFault` where one is not well formed."""
    blocks: list[Block] = []
    start: int | None = None
    endings: list[tuple[tuple[int, ...], int]] = []
    for index, bar in enumerate(bars):
        if bar.opens is not None:
            if start is not None:
                raise MarkFault(
                    index, "a repeat opens inside another", "Write 'end repeat' before this one."
                )
            start, endings = index, []
        if bar.ending:
            endings.append((bar.ending, _inside(start, index, "an ending")))
        if bar.closes:
            opened = _inside(start, index, "the end of a repeat")
            blocks.append(_block(bars, opened, index + 1, endings))
            start = None
    if start is not None:
        raise MarkFault(
            start,
            "the repeat that opens here is never closed",
            "Write 'end repeat' on a line of its own after its last bar.",
        )
    return tuple(blocks)


def _inside(start: int | None, index: int, mark: str) -> int:
    if start is None:
        raise MarkFault(
            index, f"{mark} stands outside a repeat", "Write 'repeat' where the repeat begins."
        )
    return index if mark == "an ending" else start


def _block(
    bars: Sequence[WrittenBar], start: int, stop: int, endings: list[tuple[tuple[int, ...], int]]
) -> Block:
    opens = bars[start].opens
    times = opens.times if opens else 2
    if endings:
        _check_endings(start, times, endings)
    begins = [begin for _, begin in endings]
    spans = map(range, begins, [*begins[1:], stop])
    return Block(start, stop, times, tuple(zip((n for n, _ in endings), spans, strict=True)))


def _check_endings(start: int, times: int, endings: list[tuple[tuple[int, ...], int]]) -> None:
    numbers = sorted(n for group, _ in endings for n in group)
    if endings[0][1] == start:
        raise MarkFault(
            start, "a repeat begins with an ending", "Put the bars that come back before it."
        )
    if numbers != list(range(1, times + 1)):
        said = ", ".join(map(str, numbers[:12]))
        raise MarkFault(
            start,
            f"the repeat is played {times} times and has endings for times {said}",
            f"Give each time from 1 to {times} one ending, such as 'ending 1' and 'ending 2'.",
        )


def check_jumps(bars: Sequence[WrittenBar]) -> None:
    """Raise :class:`MarkFault` where a jump has no place to go or a mark is never used."""
    at = next((i for i, bar in enumerate(bars) if bar.jump), None)
    jump = None if at is None else bars[at].jump
    if at is None or jump is None:
        return
    wanted = [
        (jump.to == "sign", "sign", "'sign' before the bar to go back to"),
        (jump.then == "coda", "to_coda", "'to coda' after the bar where the coda is taken"),
        (jump.then == "coda", "coda", "'coda' before the first bar of the coda"),
        (jump.then == "end", "fine", "'end here' after the last bar"),
    ]
    for needed, mark, words in wanted:
        if needed and not any(getattr(bar, mark) for bar in bars):
            raise MarkFault(at, "the way back has nowhere to go", f"Write {words}.")


def walk(bars: Sequence[WrittenBar]) -> Iterator[int]:
    """The indices of ``bars`` in playing order. A pickup is played at the very start only."""
    blocks = {i: block for block in blocks_of(bars) for i in range(block.start, block.stop)}
    at, jump = 0, Jump("top")
    jumped = False
    while at < len(bars):
        block = blocks.get(at)
        turn = block.played(at, jumped) if block else [at]
        at = block.stop if block else at + 1
        for place, index in enumerate(turn):
            bar = bars[index]
            if not (bar.pickup and (index or jumped)):
                yield index
            if jumped and jump.then == "end" and bar.fine:
                return
            if jumped and jump.then == "coda" and bar.to_coda:
                at, jump = _first(bars, "coda"), Jump(jump.to)
                break
            if bar.jump and not jumped and index not in turn[place + 1 :]:
                jump, jumped = bar.jump, True
                at = _first(bars, "sign") if jump.to == "sign" else 0
                break


def _first(bars: Sequence[WrittenBar], mark: str) -> int:
    return next(i for i, bar in enumerate(bars) if getattr(bar, mark))
