"""The same exercises for a mixed group: one part for each reader, all sounding together.

A line is composed where all readers can play it, each in his own octave. Where nothing is left in
common it is composed for the first reader, and the others change octave at rests only.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from changewright.chart.unroll import unroll
from changewright.errors import InputError, Refusal
from changewright.lesson.compose import compose
from changewright.lesson.level import Level, level
from changewright.lesson.player import Player
from changewright.music.sheet import Sheet
from changewright.page import LookName, Paper, written_reading
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.symbols import Style
from changewright.usecases.book_editions import Edition, edition, shared_span
from changewright.usecases.charts import open_chart
from changewright.usecases.instruments import known_instruments
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
    readers, rung = _readers(request), level(request.level)
    form = unroll(open_chart(request.chart, request.key))
    reading = analyse(form)
    names = request.families or rung.first_families
    sheets = tuple(
        _composed(reading, readers, rung, name, request, form.feel, form.digest) for name in names
    )
    made: list[Part] = []
    refused: list[Refused] = []
    for reader in readers:
        try:
            moved = [moved_for(sheet, reader.instrument, rung) for sheet in sheets]
        except PartRefused as fault:
            refused.append(Refused(reader, str(fault)))
            continue
        written = written_reading(form, reading, reader.instrument)
        made.append(Part(reader, tuple(s for s, _ in moved), tuple(m for _, m in moved), written))
    return Parts(request, form.title, reading, tuple(made), tuple(refused))


def _readers(request: PartsRequest) -> tuple[Edition, ...]:
    if not 1 <= len(request.readers) <= MOST_READERS:
        raise InputError(
            f"a group has 1 to {MOST_READERS} parts, not {len(request.readers)}",
            remedy="Name each with --for.",
        )
    known = known_instruments(request.instruments)
    found = {one.id: one for one in (edition(name, known) for name in request.readers)}
    return tuple(found.values())


def _composed(
    reading: Reading,
    readers: tuple[Edition, ...],
    rung: Level,
    family: str,
    request: PartsRequest,
    feel: str,
    chart: str,
) -> Sheet:
    """One exercise at concert pitch, where all can play it if there is such a place."""
    refusal: Refusal | None = None
    for player in _players(readers, rung):
        try:
            sheet = compose(
                reading,
                player,
                rung,
                family,
                request.seed,
                tempo_bpm=request.tempo_bpm,
                feel=feel,
                chart=chart,
            )
        except Refusal as caught:
            refusal = caught
            continue
        group = "+".join(reader.id for reader in readers)
        return replace(sheet, recipe=replace(sheet.recipe, instrument=group))
    assert refusal is not None, "the first reader alone is always tried"
    raise refusal


def _players(readers: tuple[Edition, ...], rung: Level) -> Iterator[Player]:
    """Whom to compose for: all in their comfort, all in their range, the first alone."""
    players = [Player(reader.instrument) for reader in readers]
    breaths = [b for b in (player.breath(rung) for player in players) if b is not None]
    breath = min(breaths, default=None)
    first = players[0]
    for n in range(len(first.spans(rung))):
        shared = shared_span([player.spans(rung)[n] for player in players])
        if shared is not None:
            yield replace(first, span=shared[0], breath_s=breath)
    yield replace(first, breath_s=breath)
