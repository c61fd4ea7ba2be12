"""One exercise for all readers of a book: one line where a common one suits them, moved by octaves;
a line of their own for those whom it does not suit."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from changewright.errors import InputError, Refusal
from changewright.lesson.compose import compose
from changewright.lesson.level import Level
from changewright.lesson.player import Player
from changewright.music.line import Line
from changewright.music.promise import Avoids, Promise, Within
from changewright.music.sheet import Sheet
from changewright.reading.model import Reading
from changewright.theory.instrument import Instrument, Span
from changewright.theory.pitch import Interval
from changewright.usecases.book_editions import Edition, shared_span

__all__ = ["Asked", "ReaderLine", "lines_for", "moved_for"]

_LEAST_SHARED = 12  # semitones; in less, chords could hardly be played from the root up


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be composed, over a reading that is at hand."""

    reading: Reading
    level: Level
    family: str
    seed: int
    tempo_bpm: int | None
    feel: str
    chart: str
    relax: bool = False


@dataclass(frozen=True, slots=True)
class ReaderLine:
    """The sheet of one edition; ``octaves`` from the line of ``leader``, whose line it shares."""

    edition: Edition
    sheet: Sheet
    octaves: int
    leader: Edition


def lines_for(asked: Asked, editions: Sequence[Edition]) -> list[ReaderLine]:
    """Compose for all editions, in their order.

    As many as possible share a line with the first; the others share among themselves. Raises
    :class:`InputError` naming the edition for which the rules leave no line.
    """
    found: dict[str, ReaderLine] = {}
    waiting = list(editions)
    while waiting:
        for line in _together(asked, waiting):
            found[line.edition.id] = line
        waiting = [one for one in waiting if one.id not in found]
    return [found[one.id] for one in editions]


def _together(asked: Asked, editions: list[Edition]) -> list[ReaderLine]:
    """The first edition's line, with all who can share it; those who suit least are left out."""
    leader, company = editions[0], list(editions)
    while len(company) > 1:
        shared = list(_shared(asked, company))
        if shared:
            return shared
        company.remove(min(company[1:], key=lambda one: _in_common(asked, leader, one)))
    return [ReaderLine(leader, _alone(asked, leader), 0, leader)]


def _shared(asked: Asked, company: Sequence[Edition]) -> Iterator[ReaderLine]:
    """One line for all, in their comfort or else in the range of the level; none where refused."""
    for choice in range(2):
        span = shared_span([_span(asked, one, choice) for one in company])
        if span is None or span[0].high.midi - span[0].low.midi < _LEAST_SHARED:
            continue
        leader = company[0]
        try:
            sheet = _compose(asked, Player(leader.instrument, span=span[0]), relax=False)
        except (Refusal, InputError):
            continue
        for one, octaves in zip(company, span[1], strict=True):
            yield ReaderLine(one, moved_for(sheet, one.instrument, octaves), octaves, leader)
        return


def _span(asked: Asked, one: Edition, choice: int) -> Span:
    spans = Player(one.instrument).spans(asked.level)
    return spans[min(choice, len(spans) - 1)]


def _in_common(asked: Asked, first: Edition, other: Edition) -> tuple[int, str]:
    shared = shared_span([_span(asked, first, 1), _span(asked, other, 1)])
    width = shared[0].high.midi - shared[0].low.midi if shared else 0
    return width, other.id


def _alone(asked: Asked, one: Edition) -> Sheet:
    try:
        return _compose(asked, Player(one.instrument), relax=asked.relax)
    except (Refusal, InputError) as fault:
        chart = asked.reading.title or "the changes"
        raise InputError(
            f"{asked.family} at level {asked.level.number} over {chart} in {asked.reading.key} "
            f"can't be composed for {one.name}: {fault}",
            remedy="Write  relax = true  below these [[exercises]], or change what is asked for.",
        ) from fault


def _compose(asked: Asked, player: Player, *, relax: bool) -> Sheet:
    return compose(
        asked.reading,
        player,
        asked.level,
        asked.family,
        asked.seed,
        tempo_bpm=asked.tempo_bpm,
        feel=asked.feel,
        chart=asked.chart,
        relax=relax,
    )


def moved_for(sheet: Sheet, instrument: Instrument, octaves: int) -> Sheet:
    """The same exercise for another reader, its line and promises some octaves away."""
    up = Interval(0, octaves)
    notes = tuple(replace(note, pitch=note.pitch + up) for note in sheet.line.notes)
    return replace(
        sheet,
        instrument=instrument,
        line=Line(notes, sheet.line.length),
        promises=tuple(_promise(promise, up) for promise in sheet.promises),
    )


def _promise(promise: Promise, up: Interval) -> Promise:
    if isinstance(promise, Within):
        return replace(promise, low=promise.low + up, high=promise.high + up)
    if isinstance(promise, Avoids):
        return replace(promise, pitches=tuple(pitch + up for pitch in promise.pitches))
    return promise
