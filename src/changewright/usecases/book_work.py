"""The heavy work of a book, as pure functions for :mod:`changewright.jobs`.

``set_exercise`` composes one exercise and engraves it for every edition; ``set_pages`` typesets a
run of pages from what was engraved.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from changewright.band.accompany import accompany
from changewright.band.clocks import clocks_of
from changewright.band.perform import perform_line
from changewright.chart.model import Form
from changewright.chart.reader import read_chart
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.jobs.kept import Kept
from changewright.lesson.level import level
from changewright.music.midi import write_midi
from changewright.music.musicxml import write_musicxml
from changewright.music.notated import Notation
from changewright.music.notation import notate
from changewright.music.performance import Performance
from changewright.music.promise import Quotes
from changewright.music.sheet import Sheet
from changewright.page.book import BookHead, BookPage, typeset_pages
from changewright.page.book_exercise import answer_content, exercise_content
from changewright.page.book_scales import scale_choices, scale_rows, scale_sheet
from changewright.page.book_style import BookStyle
from changewright.page.engraving import engrave_alike
from changewright.page.joining import Bookmark, Part, join_pdfs
from changewright.page.look import look_of
from changewright.page.symbol import figure_text
from changewright.page.system import System
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.key import Key
from changewright.usecases.book_editions import Edition
from changewright.usecases.book_lines import Asked, ReaderLine, lines_for
from changewright.usecases.book_proof import decisions

__all__ = [
    "ExerciseTask",
    "JoinTask",
    "PagesTask",
    "ScalesTask",
    "band_over",
    "join_book",
    "read_changes",
    "set_exercise",
    "set_pages",
    "set_scales",
]

COUNT_IN_BARS = 1
_SCALES_A_SYSTEM = 3
Parts = dict[str, bytes]


@dataclass(frozen=True, slots=True)
class ExerciseTask:
    """One exercise for all editions. ``chart`` is canonical text, ``key`` the concert key."""

    chart: str
    key: str
    level: int
    family: str
    seed: int
    tempo_bpm: int | None
    relax: bool
    editions: tuple[Edition, ...]
    style: BookStyle
    answers: bool
    extras: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ScalesTask:
    """The scales of one chapter for all editions: each chart in its key there."""

    charts: tuple[tuple[str, str], ...]
    editions: tuple[Edition, ...]
    style: BookStyle


@dataclass(frozen=True, slots=True)
class JoinTask:
    """Parts of one edition by their keys; those that go on within a chapter are ``continued``."""

    parts: tuple[tuple[str, bool], ...]
    bookmarks: tuple[Bookmark, ...]


@dataclass(frozen=True, slots=True)
class PagesTask:
    """A run of pages of one edition. ``pages`` is JSON; rows name the results they come from."""

    head: BookHead
    style: BookStyle
    pages: str


@lru_cache(maxsize=8)
def read_changes(chart: str, key: str) -> tuple[Form, Reading]:
    """A chart's text in a key: its form and how it is read."""
    form = unroll(transpose_chart(read_chart(chart), Key.parse(key)))
    return form, analyse(form)


def set_exercise(task: ExerciseTask, _kept: Kept) -> Mapping[str, bytes]:
    """Compose, write out and engrave; parts ``told``, and by edition ``rows``, ``answers``,
    ``musicxml`` and ``midi``."""
    form, reading = read_changes(task.chart, task.key)
    rung = level(task.level)
    asked = Asked(
        reading, rung, task.family, task.seed, task.tempo_bpm, form.feel, form.digest, task.relax
    )
    lines = lines_for(asked, task.editions)
    told: dict[str, Any] = {}
    parts: Parts = {}
    for line, notation, systems in _engraved(lines, task.style, answers=False):
        content = exercise_content(notation, systems, task.style, number=0, about=reading.title)
        parts[f"rows/{line.edition.id}"] = _drawings(content)
        told[line.edition.id] = {
            "exercise": content,
            "decisions": decisions(line, notation),
            "leader": line.leader.id,
            "phrases": list(_phrases(line.sheet)),
        }
    if task.answers and any(note.blank for note in lines[0].sheet.line.notes):
        for line, notation, systems in _engraved(lines, task.style, answers=True):
            content = answer_content(notation, systems, task.style, number=0, about=reading.title)
            parts[f"answers/{line.edition.id}"] = _drawings(content)
            told[line.edition.id]["answer"] = content
    sheet = lines[0].sheet
    told["tempo_bpm"], told["family"] = sheet.tempo_bpm, sheet.title
    return {"told": _json(told), **parts, **_extras(task, lines, reading)}


def _engraved(
    lines: Sequence[ReaderLine], style: BookStyle, *, answers: bool
) -> Iterator[tuple[ReaderLine, Notation, tuple[System, ...]]]:
    """Each reader's notation and systems, with the same bars on each system for all whose bars
    are the same."""
    notations = [notate(line.sheet, answers=answers) for line in lines]
    shapes = [tuple((b.bar.number, b.times, b.opens_repeat) for b in n.bars) for n in notations]
    for shape in dict.fromkeys(shapes):
        alike = [i for i, other in enumerate(shapes) if other == shape]
        engraved = engrave_alike(
            [notations[i] for i in alike],
            look_of(style.look),
            bars_a_system=style.bars_a_system,
            width=style.staff_width,
        )
        yield from (
            (lines[i], notations[i], systems) for i, systems in zip(alike, engraved, strict=True)
        )


def _drawings(content: dict[str, Any]) -> bytes:
    """The drawings of an exercise's rows, taken out of its content."""
    return _json([row.pop("svg") for row in content["rows"]])


def _phrases(sheet: Sheet) -> Iterator[dict[str, Any]]:
    """Each quoted phrase: its degrees, its rhythm, and the bars where it stands."""
    origin = sheet.bars[0].start
    for promise in sheet.promises:
        if isinstance(promise, Quotes):
            onsets = [promise.at - origin + onset for onset in promise.onsets]
            notes = [note for note in sheet.line.notes if note.onset in onsets]
            degrees = " ".join(figure_text(n.degree) if n.degree else "·" for n in notes)
            yield {"degrees": degrees, "bar": sheet.bar_at(promise.at).number}


def _extras(task: ExerciseTask, lines: Sequence[ReaderLine], reading: Reading) -> Parts:
    parts: Parts = {}
    if "musicxml" in task.extras:
        for line in lines:
            parts[f"musicxml/{line.edition.id}"] = write_musicxml(line.sheet).encode()
    if "midi" in task.extras:
        for line in lines:
            parts[f"midi/{line.edition.id}"] = _midi(line.sheet, reading, task)
    return parts


def _midi(sheet: Sheet, reading: Reading, task: ExerciseTask) -> bytes:
    meter = sheet.bars[0].meter
    clocks = clocks_of(sheet.feel, sheet.tempo_bpm, meter, count_in_bars=COUNT_IN_BARS)
    band = band_over(reading, sheet.tempo_bpm, sheet.feel, task.seed, task.level)
    line = perform_line(sheet, clocks=clocks, seed=task.seed)
    played = Performance((*band.parts, line), band.length_s)
    return write_midi(played, bpm=sheet.tempo_bpm, meter=sheet.bars[-1].meter, title=sheet.title)


@lru_cache(maxsize=4)
def band_over(reading: Reading, bpm: float, feel: str, seed: int, rung: int) -> Performance:
    """The band of an exercise at level ``rung``, with a bar of count-in."""
    return accompany(
        reading, bpm=bpm, feel=feel, seed=seed, level=rung, count_in_bars=COUNT_IN_BARS
    )


def set_scales(task: ScalesTask, _kept: Kept) -> Mapping[str, bytes]:
    """Engrave a chapter's scales; parts ``told`` (by edition), and by edition ``rows``."""
    readings = [read_changes(chart, key)[1] for chart, key in task.charts]
    choices = scale_choices(readings)
    sheets = [scale_sheet(choices, readings[0].key, one.instrument) for one in task.editions]
    notations = [notate(sheet) for sheet in sheets]
    engraved = engrave_alike(
        notations,
        look_of(task.style.look),
        bars_a_system=min(_SCALES_A_SYSTEM, task.style.bars_a_system),
        width=task.style.staff_width,
    )
    told: dict[str, Any] = {}
    parts: Parts = {}
    for one, notation, systems in zip(task.editions, notations, engraved, strict=True):
        rows = scale_rows(choices, notation, systems, task.style)
        parts[f"rows/{one.id}"] = _drawings({"rows": rows})
        told[one.id] = {"rows": rows, "head_mm": 0.0, "tail_mm": 0.0, "notes": []}
    return {"told": _json(told), **parts}


def join_book(task: JoinTask, kept: Kept) -> Mapping[str, bytes]:
    """Join an edition's parts; part ``pdf``."""
    parts = [Part(kept.read(key, "pdf"), continued) for key, continued in task.parts]
    return {"pdf": join_pdfs(parts, task.bookmarks)}


def set_pages(task: PagesTask, kept: Kept) -> Mapping[str, bytes]:
    """Typeset a run of pages; part ``pdf``."""
    pages = [
        BookPage(
            one["number"],
            tuple(_filled(one["items"], kept)),
            one["chapter"],
            tuple(one["labels"]),
            one["bare"],
        )
        for one in json.loads(task.pages)
    ]
    return {"pdf": typeset_pages(task.head, task.style, pages)}


def _filled(items: Sequence[dict[str, Any]], kept: Kept) -> Iterator[dict[str, Any]]:
    """Rows with their drawings, fetched from the results that they name."""
    at: tuple[str, str] | None = None
    drawings: list[str] = []
    for item in items:
        if item["kind"] == "row":
            key, part, number = item["from"]
            if at != (key, part):
                drawings, at = json.loads(kept.read(key, part)), (key, part)
            yield {**item, "svg": drawings[number]}
        else:
            yield item


def _json(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False).encode()
