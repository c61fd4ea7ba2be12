"""A book from its plan: compose, engrave, lay out, typeset and join, on all cores."""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from changewright.chart.chart import Chart
from changewright.chart.writer import write_chart
from changewright.errors import InputError, Place
from changewright.jobs.kept import Kept
from changewright.jobs.running import Workers
from changewright.page.book import BookHead
from changewright.page.language import language
from changewright.page.words import instrument_words
from changewright.usecases.book_editions import Edition, edition
from changewright.usecases.book_pages import (
    Engraved,
    Layout,
    SetPiece,
    edition_pages,
    lay_out_book,
)
from changewright.usecases.book_plan import BookPlan, Piece, key_on
from changewright.usecases.book_tracks import TrackTask, sound_track
from changewright.usecases.book_work import (
    ExerciseTask,
    JoinTask,
    PagesTask,
    ScalesTask,
    join_book,
    set_exercise,
    set_pages,
    set_scales,
)

__all__ = ["Book", "Progress", "edition_of", "make_book", "track_of"]

Progress = Callable[[str, int, int], None]
"""Hears of a step by name, how much of it is done, and of how much."""


@dataclass(frozen=True, slots=True)
class Book:
    """A book that is made and lies among the kept results: ``pdfs`` are keys by edition."""

    plan: BookPlan
    editions: tuple[Edition, ...]
    pieces: tuple[SetPiece, ...]
    layout: Layout
    pdfs: tuple[tuple[Edition, str], ...]
    tracks: tuple[tuple[TrackTask, str], ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a publisher must know before the book goes out."""
        return tuple(
            f"nobody knows who owns '{title}': ask before you copy or sell this book, and write "
            "what you find out as  rights:  into its chart"
            for title in self.plan.unknown_rights
        )


def make_book(
    plan: BookPlan,
    kept: Kept,
    workers: Workers,
    editions: Sequence[Edition] = (),
    progress: Progress = lambda *_: None,
) -> Book:
    """Make all editions of a book, or those named; only what changed is made anew.

    Raises :class:`InputError` naming the line of the book's file whose exercise can't be
    composed.
    """
    wanted = tuple(editions) or plan.editions
    pieces = _pieces(plan, kept, workers, progress)
    scales = _scales(plan, kept, workers) if plan.scales else ()
    layout = lay_out_book(plan, pieces, scales)
    pdfs = [(one, _edition(plan, one, layout, kept, workers, progress)) for one in wanted]
    tracks = _tracks(pieces, kept, workers, progress) if "audio" in plan.extras else ()
    return Book(plan, wanted, pieces, layout, tuple(pdfs), tracks)


def _pieces(
    plan: BookPlan, kept: Kept, workers: Workers, progress: Progress
) -> tuple[SetPiece, ...]:
    pieces = list(plan.pieces())

    def where(number: int) -> Place:
        return Place(file=plan.file, line=pieces[number].entry.line or None)

    tasks = [_exercise_task(plan, piece) for piece in pieces]
    step = _Step("Composing and engraving", len(tasks), progress)
    keys = workers.run(set_exercise, tasks, kept, step.add, where)
    return tuple(
        SetPiece(key, json.loads(kept.read(key, "told")), piece)
        for piece, key in zip(pieces, keys, strict=True)
    )


def _exercise_task(plan: BookPlan, piece: Piece) -> ExerciseTask:
    return ExerciseTask(
        chart=_written(piece.chart),
        key=str(piece.key),
        level=piece.level,
        family=piece.family,
        seed=piece.entry.seed,
        tempo_bpm=piece.entry.tempo_bpm,
        relax=piece.entry.relax,
        editions=plan.editions,
        style=plan.style,
        answers=plan.answers,
        extras=tuple(x for x in plan.extras if x != "audio"),
    )


@cache
def _written(chart: Chart) -> str:
    return write_chart(chart)


def _scales(plan: BookPlan, kept: Kept, workers: Workers) -> tuple[Engraved, ...]:
    tasks = [
        ScalesTask(
            tuple((_written(chart), str(key_on(chart, tonic))) for chart in plan.charts),
            plan.editions,
            plan.style,
        )
        for tonic in plan.tonics
    ]
    keys = workers.run(set_scales, tasks, kept)
    return tuple(Engraved(key, json.loads(kept.read(key, "told"))) for key in keys)


def _edition(
    plan: BookPlan,
    edition: Edition,
    layout: Layout,
    kept: Kept,
    workers: Workers,
    progress: Progress,
) -> str:
    words = language(plan.style.language)
    reader = words.reader(edition.instrument.id, instrument_words(edition.instrument))
    head = BookHead(
        plan.title, plan.author, words.word("edition", reader=reader), plan.note, plan.dated
    )
    made = edition_pages(plan, edition, layout, head)
    tasks = [PagesTask(head, plan.style, part.pages) for part in made.parts]
    step = _Step(f"Typesetting {edition.name}", len(tasks), progress)
    keys = workers.run(set_pages, tasks, kept, step.add)
    parts = tuple((key, part.continued) for key, part in zip(keys, made.parts, strict=True))
    (key,) = workers.run(join_book, [JoinTask(parts, made.bookmarks)], kept)
    return key


def _tracks(
    pieces: Sequence[SetPiece],
    kept: Kept,
    workers: Workers,
    progress: Progress,
) -> tuple[tuple[TrackTask, str], ...]:
    tasks = list(dict.fromkeys(_track_tasks(pieces)))
    step = _Step("Playing the band", len(tasks), progress)
    return tuple(zip(tasks, workers.run(sound_track, tasks, kept, step.add), strict=True))


def _track_tasks(pieces: Sequence[SetPiece]) -> Iterator[TrackTask]:
    for one in pieces:
        yield track_of(one.piece, one.told["tempo_bpm"])


def track_of(piece: Piece, tempo_bpm: int) -> TrackTask:
    """The band's track for an exercise; exercises that ask for the same band share one."""
    return TrackTask(
        _written(piece.chart), str(piece.key), piece.level, piece.entry.seed, tempo_bpm
    )


class _Step:
    """Counts what is done of one step and tells it on."""

    def __init__(self, name: str, total: int, progress: Progress) -> None:
        self._name, self._total, self._done, self._tell = name, total, 0, progress

    def add(self, count: int) -> None:
        self._done += count
        self._tell(self._name, self._done, self._total)


def edition_of(plan: BookPlan, name: str) -> Edition:
    """An edition of the book by its name; raises :class:`InputError` for one that it lacks."""
    found = edition(name)
    if found in plan.editions:
        return found
    raise InputError(
        f"this book has no edition {name!r}",
        where=Place(file=plan.file),
        remedy=f"It has {', '.join(e.name for e in plan.editions)}. Add {name!r} to its editions, "
        "so that all of them are laid out alike.",
    )
