"""An exercise of a lesson at another tempo or in another key, for the player to play along with."""

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from changewright.errors import InputError
from changewright.lesson.swap import Swap
from changewright.music.document import Document
from changewright.usecases.lesson import LessonRequest, at_tempo, plan_lesson
from changewright.usecases.lesson_folder import load_assignment, load_manifest, write_lesson
from changewright.usecases.stems import stem_shelf

__all__ = ["TEMPI", "write_variant"]

TEMPI = (30, 320)
"""The slowest and the fastest tempo that a player may ask for, in quarters a minute. Source: our
own choice; the curriculum's lie between 44 and 300."""


def write_variant(
    lesson: Path, number: int, folder: Path, *, tempo_bpm: int | None, key: str | None
) -> None:
    """Compose and sound exercise ``number`` of a lesson anew; ``folder`` is then a lesson with this
    one exercise and no pages. What is None stays as it is in the lesson.

    The notes are composed at the tempo of the recipe, so that they are the printed ones in the
    same key, whatever the tempo they are then played at. Raises an :class:`InputError` for a tempo
    or key that can't be used, a :class:`Refusal` where the rules leave no line, and
    :class:`LessonError` for a lesson that can't be used.
    """
    sheet = load_assignment(lesson, number).sheet
    bpm = _tempo(sheet.tempo_bpm if tempo_bpm is None else tempo_bpm)
    manifest = load_manifest(lesson)
    with TemporaryDirectory(prefix="variant-") as making:
        chart = Path(making) / "chart.txt"
        chart.write_text(str(manifest["chart"]), encoding="utf-8")
        request = LessonRequest(
            chart=str(chart),
            instrument=sheet.recipe.instrument,
            level=sheet.recipe.level,
            key=key,
            seed=sheet.recipe.seed,
            student=str(manifest["student"]),
            tempo_bpm=sheet.recipe.tempo_bpm or None,
            families=tuple(_families(manifest)),
            phrases=_phrases(manifest, Path(making) / "phrases"),
            own_level=_own_level(manifest, Path(making) / "level.toml"),
            swaps=tuple((n, Swap(bar, phrase)) for n, bar, phrase in manifest["swaps"]),
        )
        planned = plan_lesson(request)
        played = at_tempo(planned.exercises[number - 1], planned.reading, bpm)
        only = replace(played, number=1)
        write_lesson(replace(planned, exercises=(only,)), folder, stem_shelf(), pages=False)


def _phrases(manifest: Document, folder: Path) -> Path | None:
    """The teacher's own phrases that the lesson was made with, laid out again in a folder."""
    found = manifest.get("phrases", [])
    if not found:
        return None
    folder.mkdir()
    for name, text in found:
        (folder / f"{Path(name).name}.txt").write_text(str(text), encoding="utf-8")
    return folder


def _own_level(manifest: Document, file: Path) -> Path | None:
    """The teacher's own level that the lesson was made with, laid out again in a file."""
    text = str(manifest.get("own_level", ""))
    if not text:
        return None
    file.write_text(text, encoding="utf-8")
    return file


def _tempo(bpm: int) -> int:
    low, high = TEMPI
    if not low <= bpm <= high:
        raise InputError(
            f"can't play at {bpm} quarters a minute", remedy=f"Choose {low} to {high}."
        )
    return bpm


def _families(manifest: Any) -> list[str]:
    return [str(one["sheet"]["recipe"]["family"]) for one in manifest["exercises"]]
