"""The same exercises for a mixed group: one part for each reader, all sounding together.

A line is composed where all readers can play it, each in his own octave. Where they have too little
in common the line is taken that most can play; a part may change octave at rests, nowhere else.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from changewright.chart.unroll import unroll
from changewright.errors import InputError, Refusal
from changewright.lesson.compose import compose
from changewright.lesson.level import Level
from changewright.lesson.player import Player
from changewright.music.sheet import Sheet
from changewright.page import LookName, Paper, written_reading
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.instrument import Span
from changewright.theory.symbols import Style
from changewright.usecases.book_editions import Edition, edition, shared_span
from changewright.usecases.charts import open_chart
from changewright.usecases.instruments import known_instruments
from changewright.usecases.levels import asked_level
from changewright.usecases.part_octaves import Move, PartRefused, moved_for

__all__ = ["Part", "Parts", "PartsRequest", "Refused", "plan_parts"]

MOST_READERS = 24


@dataclass(frozen=True, slots=True)
class PartsRequest:
    """What a bandleader asks for.

    ``readers`` are instruments, or groups that read alike: ``C treble``, ``C bass``, ``B flat``,
    ``E flat``, ``F``; the rest is as for a lesson.
    """

    chart: str
    readers: tuple[str, ...]
    level: int = 1
    key: str | None = None
    seed: int = 1
    tempo_bpm: int | None = None
    families: tuple[str, ...] = ()
    paper: Paper = "a4"
    look: LookName = "plain"
    chords: Style = "abbreviated"
    instruments: Path | None = None
    own_level: Path | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One reader's part: an exercise a sheet, how each was moved, and the chorus as he reads it."""

    edition: Edition
    sheets: tuple[Sheet, ...]
    moves: tuple[Move, ...]
    written: Reading


@dataclass(frozen=True, slots=True)
class Refused:
    """A reader who can't have the part, and why."""

    edition: Edition
    reason: str


@dataclass(frozen=True, slots=True)
class Parts:
    """All parts of a group, and those that can't be made."""

    request: PartsRequest
    title: str
    reading: Reading
    parts: tuple[Part, ...]
    refused: tuple[Refused, ...]


def plan_parts(request: PartsRequest) -> Parts:
    """Compose the exercises once and write them out for each reader; nothing is written.

    Raises an :class:`InputError` for what can't be used, and a :class:`Refusal` where the rules
    leave no line for anybody.
    """
    readers, rung = _readers(request), asked_level(request.level, request.own_level)
    form = unroll(open_chart(request.chart, request.key))
    reading = analyse(form)
    group = _Group(request, rung, reading, form.feel, form.digest)
    made = [group.add(name, readers) for name in request.families or rung.first_families]
    parts = tuple(
        Part(
            reader,
            tuple(one[reader.id][0] for one in made),
            tuple(one[reader.id][1] for one in made),
            written_reading(
                form, reading, reader.instrument, manner=made[0][reader.id][0].spelling
            ),
        )
        for reader in readers
        if reader.id not in group.refused
    )
    refused = tuple(Refused(r, group.refused[r.id]) for r in readers if r.id in group.refused)
    return Parts(request, form.title, reading, parts, refused)


def _readers(request: PartsRequest) -> tuple[Edition, ...]:
    if not 1 <= len(request.readers) <= MOST_READERS:
        raise InputError(
            f"a group has 1 to {MOST_READERS} parts, not {len(request.readers)}",
            remedy="Name each with --for.",
        )
    known = known_instruments(request.instruments)
    found = {one.id: one for one in (edition(name, known) for name in request.readers)}
    return tuple(found.values())


Moved = dict[str, tuple[Sheet, Move]]


class _Group:
    """Composes one exercise after another, and knows who has dropped out."""

    def __init__(
        self, request: PartsRequest, rung: Level, reading: Reading, feel: str, chart: str
    ) -> None:
        self.refused: dict[str, str] = {}
        self._request, self._rung, self._reading = request, rung, reading
        self._feel, self._chart = feel, chart

    def add(self, family: str, readers: tuple[Edition, ...]) -> Moved:
        """The exercise that most readers can have, written out for each of them."""
        best: tuple[Moved, dict[str, str]] | None = None
        refusal: Refusal | None = None
        playing = [r for r in readers if r.id not in self.refused]
        for player in _players(playing, self._rung):
            try:
                tried = self._moved(self._composed(family, player, readers), playing)
            except Refusal as caught:
                refusal = refusal or caught
                continue
            if best is None or _cost(tried) < _cost(best):
                best = tried
            if _cost(best) == (0, 0):
                break
        if best is None:
            raise refusal or InputError("there is no reader left to write for")
        self.refused.update(best[1])
        return best[0]

    def _composed(self, family: str, player: Player, readers: tuple[Edition, ...]) -> Sheet:
        sheet = compose(
            self._reading,
            player,
            self._rung,
            family,
            self._request.seed,
            tempo_bpm=self._request.tempo_bpm,
            feel=self._feel,
            chart=self._chart,
        )
        group = "+".join(reader.id for reader in readers)
        return replace(sheet, recipe=replace(sheet.recipe, instrument=group))

    def _moved(self, sheet: Sheet, playing: Sequence[Edition]) -> tuple[Moved, dict[str, str]]:
        moved: Moved = {}
        refused: dict[str, str] = {}
        for reader in playing:
            try:
                moved[reader.id] = moved_for(sheet, reader.instrument, self._rung)
            except PartRefused as fault:
                refused[reader.id] = str(fault)
        return moved, refused


def _cost(tried: tuple[Moved, dict[str, str]]) -> tuple[int, int]:
    """Who drops out counts most, then in how many bars somebody leaves the range of the level."""
    moved, refused = tried
    return len(refused), sum(len(move.beyond) for _, move in moved.values())


def _players(readers: Sequence[Edition], rung: Level) -> Iterator[Player]:
    """Whom to compose for: all at once, all but one, then each alone; in comfort, then in range.

    Who is named last is left out first. All breathe as the one with the shortest breath.
    """
    players = [Player(reader.instrument) for reader in readers]
    breath = min((b for b in (p.breath(rung) for p in players) if b is not None), default=None)
    fewer = [[p for p in players if p is not out] for out in reversed(players)]
    sets = [players, *fewer, *([player] for player in players)]
    tried: set[Span] = set()
    for some in sets:
        for n in range(len(players[0].spans(rung)) if some else 0):
            shared = shared_span([player.spans(rung)[n] for player in some])
            if shared is not None and shared[0] not in tried:
                tried.add(shared[0])
                yield replace(some[0], span=shared[0], breath_s=breath)
