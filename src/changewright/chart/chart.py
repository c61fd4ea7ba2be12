"""The chart: a tune's bars as written, its heading, and the order of its sections."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from changewright.chart.roads import MOST_PLAYED, MarkFault, blocks_of, check_jumps
from changewright.chart.written import Sung, WrittenBar
from changewright.music.bar import Meter
from changewright.theory.key import Key

__all__ = ["MOST_WRITTEN", "RIGHTS", "SECTION_NAME", "Chart"]

MOST_WRITTEN = 2000
"""Bars a chart may have on paper: sixty choruses written out, and still a bounded amount."""

RIGHTS = ("own work", "public domain", "licensed", "changes only", "unknown")
"""What a chart may say of who owns it; details may follow after a comma."""

SECTION_NAME = re.compile(r"[A-Za-z][A-Za-z0-9'-]{0,23}")


@dataclass(frozen=True, slots=True)
class Chart:
    """A tune as written, with its heading.

    ``form`` lists section names for one chorus; empty means the bars in the order written.
    ``head_in``, ``solos`` and ``head_out`` do the same for the parts of a performance, and stand
    for ``form`` where they are empty. ``tempo_bpm`` is quarters a minute. ``rights`` begins with
    one of ``RIGHTS``. Raises :class:`MarkFault` for marks that contradict each other.
    """

    title: str
    bars: tuple[WrittenBar, ...]
    by: str = ""
    tempo_bpm: int = 120
    feel: str = "swing"
    rights: str = "unknown"
    form: tuple[str, ...] = ()
    head_in: tuple[str, ...] = ()
    solos: tuple[str, ...] = ()
    head_out: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self._check_heading()
        if not 1 <= len(self.bars) <= MOST_WRITTEN or self.bars[-1].pickup:
            raise ValueError(f"a chart has 1 to {MOST_WRITTEN} full bars")
        _check_order(self.bars)
        _check_melody(self.bars)
        blocks_of(self.bars)
        check_jumps(self.bars)
        self._check_forms()

    @property
    def key(self) -> Key | None:
        """The key at the beginning, or None where the chart names none."""
        return self.bars[0].key

    @property
    def meter(self) -> Meter:
        """The meter at the beginning."""
        return self.bars[0].meter

    @property
    def has_pickup(self) -> bool:
        """Whether bar 0 is a pickup."""
        return self.bars[0].pickup

    @property
    def sections(self) -> dict[str, tuple[WrittenBar, ...]]:
        """The bars of each named section in the order written."""
        starts = [i for i, bar in enumerate(self.bars) if bar.section]
        spans = pairwise([*starts, len(self.bars)])
        return {self.bars[a].section: self.bars[a:b] for a, b in spans}

    def number(self, index: int) -> int:
        """The number on paper of the bar at an index: from 1, the pickup 0."""
        return index if self.has_pickup else index + 1

    def _check_heading(self) -> None:
        for line in (self.title, self.by, self.feel, self.rights):
            if line != " ".join(line.split()) or not line.isprintable() or len(line) > 200:
                raise ValueError(f"a heading is one line of up to 200 characters: {line!r}")
        if not self.title or not self.feel:
            raise ValueError("a chart has a title and a feel")
        if not 20 <= self.tempo_bpm <= 400:
            raise ValueError(f"a tempo lies between 20 and 400, not {self.tempo_bpm}")
        if self.rights.split(",")[0] not in RIGHTS:
            raise ValueError(f"rights begin with one of {', '.join(RIGHTS)}")

    def _check_forms(self) -> None:
        orders = [order for order in (self.form, self.head_in, self.solos, self.head_out) if order]
        if not orders:
            return
        sections = self.sections
        unnamed = not self.bars[1 if self.has_pickup else 0].section
        if unnamed or not {name for order in orders for name in order} <= set(sections):
            raise ValueError("a form names sections that the chart has")
        for bars in sections.values():
            _check_section(self.bars.index(bars[0]), bars)
        jump = next((i for i, bar in enumerate(self.bars) if bar.jump), 0)
        for order in orders:
            if sum(len(sections[name]) for name in order) > MOST_PLAYED:
                raise ValueError(f"a form lasts at most {MOST_PLAYED} bars")
            _check_road(jump, [bar for name in order for bar in sections[name]])


def _check_section(begin: int, bars: tuple[WrittenBar, ...]) -> None:
    try:
        blocks_of(bars)
    except MarkFault as fault:
        raise MarkFault(begin + fault.index, fault.what, fault.remedy) from None


def _check_road(jump: int, bars: list[WrittenBar]) -> None:
    try:
        check_jumps(bars)
    except MarkFault as fault:
        remedy = f"{fault.remedy} It must lie in a section that the form line names."
        raise MarkFault(jump, f"in the order of the form, {fault.what}", remedy) from None


def _check_order(bars: tuple[WrittenBar, ...]) -> None:
    names = [bar.section for bar in bars if bar.section]
    if len(set(names)) < len(names) or not all(map(SECTION_NAME.fullmatch, names)):
        raise ValueError("section names are words, each used once")
    jumps = [i for i, bar in enumerate(bars) if bar.jump]
    if len(jumps) > 1:
        raise MarkFault(jumps[1], "a second jump back", "Keep one way back in a chart.")
    for before, bar in pairwise(bars):
        if bar.pickup or (bar.key is None and before.key is not None):
            raise ValueError("a pickup stands first, and a key stays until another comes")


def _check_melody(bars: tuple[WrittenBar, ...]) -> None:
    sounding = None
    for piece in _pieces(bars):
        if piece is not None and piece.held and piece.pitch != sounding:
            raise ValueError("a held note goes on from the note before it")
        sounding = None if piece is None else piece.pitch


def _pieces(bars: tuple[WrittenBar, ...]) -> Iterator[Sung | None]:
    for bar in bars:
        yield from bar.melody or (None,)
