"""A lesson as a folder: pages, scores, stems, and the manifest by which it is heard.

The manifest, ``lesson.json``::

    {"shape": 1, "made_by": "changewright 0.1.0", "title": "...", "student": "...",
     "instrument": "tenor saxophone", "level": 1, "key": "F", "seed": 7,
     "swaps": [[1, 5, "climb"]],                 phrases put in the place of bars, by exercise
     "phrases": [["climb", "title: ..."]],       a teacher's own phrases by name, as charts
     "own_level": "",                            a level of the teacher's own, as its TOML file
     "chart": "title: ...",                      the chart's canonical text
     "reading": {...},                           as ``changewright read --json`` prints it
     "exercises": [{"number": 1, "label": "root-up/L1/F/7-3fa9c2",
                    "clock": {"bpm": 84.0, "swing_ratio": 2.0, "lead_in": "4"},
                    "sheet": {...},              notes and promises, see music/document.py
                    "files": {"musicxml": "...", "midi": "...", "stems": {"bass": "..."}}}],
     "files": {"lesson.pdf": "sha256 ..."}}      every file of the folder but this one
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import Any

from changewright import __version__
from changewright.chart.chart import Chart
from changewright.chart.writer import write_chart
from changewright.errors import LessonError, Place
from changewright.lesson.phrase_library import phrase_charts
from changewright.music.clock import Clock
from changewright.music.document import Document, sheet_document, sheet_from
from changewright.music.midi import write_midi
from changewright.music.musicxml import write_musicxml
from changewright.music.sheet import Sheet
from changewright.page import lesson_pdf
from changewright.page.words import is_swung
from changewright.reading.document import reading_document
from changewright.sound.kept import StemShelf
from changewright.usecases.folder import MANIFEST, whole_folder
from changewright.usecases.lesson import Exercise, Lesson, LessonRequest
from changewright.usecases.stems import stems_into

__all__ = ["SHAPE", "Assignment", "load_assignment", "load_manifest", "write_lesson"]

SHAPE = 1
"""The version of the manifest's shape."""

MOST_BYTES = 50_000_000


@dataclass(frozen=True, slots=True)
class Assignment:
    """What a take is heard against: a sheet, the clock it was played by, the stems of its band, and
    the chart's text."""

    sheet: Sheet
    clock: Clock
    backing: tuple[Path, ...]
    chart: str


def write_lesson(
    lesson: Lesson, folder: Path, shelf: StemShelf | None = None, *, pages: bool = True
) -> Document:
    """Write the whole lesson to ``folder``, or nothing; returns the manifest.

    What was sounded before comes from the ``shelf``; without one nothing is kept. ``pages`` says
    whether it is printed too.
    """
    with whole_folder(folder) as making:
        if pages:
            (making / "lesson.pdf").write_bytes(_pdf(lesson))
        exercises = [_write_exercise(exercise, making, shelf) for exercise in lesson.exercises]
        manifest = _manifest(lesson, exercises, making)
        text = json.dumps(manifest, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
        (making / MANIFEST).write_text(text, encoding="utf-8")
    return manifest


def load_manifest(folder: Path) -> Document:
    """Read a lesson folder's manifest; raises :class:`LessonError`."""
    path = folder / MANIFEST
    if not path.is_file():
        raise LessonError(
            f"there is no {MANIFEST} here",
            where=Place(file=str(folder)),
            remedy="Name the folder that 'changewright lesson' wrote.",
        )
    try:
        if path.stat().st_size > MOST_BYTES:
            raise ValueError("larger than any lesson")
        manifest = json.loads(path.read_text("utf-8"))
        if not isinstance(manifest, dict) or manifest.get("shape") != SHAPE:
            raise ValueError(f"not shape {SHAPE} of a lesson's manifest")
    except (ValueError, RecursionError, UnicodeDecodeError) as fault:
        raise LessonError(
            f"can't be read: {fault}",
            where=Place(file=str(path)),
            remedy="Make the lesson again with 'changewright lesson'.",
        ) from fault
    return manifest


def load_assignment(folder: Path, number: int) -> Assignment:
    """One exercise of a lesson by its number, from 1."""
    manifest = load_manifest(folder)
    exercises = manifest.get("exercises")
    if not isinstance(exercises, list) or not 1 <= number <= len(exercises):
        count = len(exercises) if isinstance(exercises, list) else 0
        raise LessonError(
            f"there is no exercise {number}",
            where=Place(file=str(folder)),
            remedy=f"This lesson has exercises 1 to {count}.",
        )
    return _assignment(exercises[number - 1], manifest, folder)


def _assignment(
    document: Mapping[str, Any], manifest: Mapping[str, Any], folder: Path
) -> Assignment:
    try:
        clock = document["clock"]
        stems = document["files"]["stems"]
        return Assignment(
            sheet_from(document["sheet"]),
            Clock(clock["bpm"], clock["swing_ratio"], Fraction(clock["lead_in"])),
            tuple(folder / stems[name] for name in ("count-in", "bass", "comping", "drums")),
            str(manifest["chart"]),
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise LessonError(
            f"its manifest is broken: {type(fault).__name__}: {fault}",
            where=Place(file=str(folder / MANIFEST)),
            remedy="Make the lesson again with 'changewright lesson'.",
        ) from fault


def _pdf(lesson: Lesson) -> bytes:
    return lesson_pdf(
        lesson.sheets,
        title=lesson.title,
        for_whom=lesson.request.student,
        paper=lesson.request.paper,
        look=lesson.request.look,
        size=lesson.request.size,
        answers=lesson.request.answers == "filled",
        answer_key=lesson.request.answers == "key",
        studio=_studio(lesson.request),
        in_language=lesson.request.language,
        chords=lesson.request.chords,
        reading=lesson.reading,
        written=lesson.written,
    )


def _studio(request: LessonRequest) -> str | None:
    """The studio that the page's codes open. A page made with a file of the teacher's own bears
    none: the studio composes what it doesn't hold from the label, which tells nothing of the file.
    """
    own = (request.phrases, request.instruments, request.own_level)
    return None if any(own) else request.studio


def _write_exercise(exercise: Exercise, folder: Path, shelf: StemShelf | None) -> Document:
    sheet, slug = exercise.sheet, exercise.slug
    score = write_musicxml(sheet, swung=is_swung(sheet.feel, sheet.bars[-1].meter))
    (folder / f"{slug}.musicxml").write_text(score, encoding="utf-8")
    midi = write_midi(
        exercise.performance,
        bpm=sheet.tempo_bpm,
        meter=sheet.bars[-1].meter,
        title=f"{sheet.title}",
    )
    (folder / f"{slug}.mid").write_bytes(midi)
    stems, _ = stems_into(folder / slug, exercise.performance, shelf)
    clock = exercise.clock
    return {
        "number": exercise.number,
        "label": sheet.recipe.label,
        "clock": {
            "bpm": clock.bpm,
            "swing_ratio": clock.swing_ratio,
            "lead_in": str(clock.lead_in),
        },
        "sheet": sheet_document(sheet),
        "files": {
            "musicxml": f"{slug}.musicxml",
            "midi": f"{slug}.mid",
            "stems": {path.stem: f"{slug}/{path.name}" for path in stems},
        },
    }


def _own_phrases(folder: Path | None) -> tuple[tuple[str, Chart], ...]:
    return () if folder is None else phrase_charts(folder)


def _own_level(file: Path | None) -> str:
    return "" if file is None else file.read_text("utf-8")


def _manifest(lesson: Lesson, exercises: list[Document], folder: Path) -> Document:
    request = lesson.request
    first = lesson.sheets[0]
    return {
        "shape": SHAPE,
        "made_by": f"changewright {__version__}",
        "title": lesson.title,
        "student": request.student,
        "instrument": first.instrument.id,
        "level": first.recipe.level,
        "own_level": _own_level(request.own_level),
        "key": str(first.key),
        "seed": request.seed,
        "swaps": [[number, swap.bar, swap.phrase] for number, swap in request.swaps],
        "phrases": [[name, write_chart(chart)] for name, chart in _own_phrases(request.phrases)],
        "chart": write_chart(lesson.chart),
        "reading": reading_document(lesson.reading),
        "exercises": exercises,
        "files": {
            path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.rglob("*"))
            if path.is_file()
        },
    }
