"""Lessons made in turn, in a process apart, so that pages stay quick meanwhile.

What was asked for is kept first. A studio that was stopped in the middle finds it again when it
starts, and a lesson that is there is not made again.
"""

import shutil
from pathlib import Path
from typing import Any

from changewright.errors import ChangewrightError
from changewright.jobs.bounded import Hand, Stopped
from changewright.lesson.swap import Swap
from changewright.studio.faults import fault_view
from changewright.studio.folder import Asked
from changewright.studio.studio import Studio
from changewright.usecases.lesson import LessonRequest, plan_lesson
from changewright.usecases.lesson_folder import write_lesson
from changewright.usecases.stems import stem_shelf

__all__ = ["ask_for", "request_of", "take_up"]

_MOST_FAULTS = 200
_TOO_LONG = {
    "what": "This lesson took more time or memory than a lesson may.",
    "remedy": "Choose fewer exercises, or a shorter chart.",
}


def request_of(studio: Studio, asked: Asked) -> LessonRequest:
    """What is asked of the composer; raises :class:`NotKept` for a chart that isn't there."""
    return LessonRequest(
        chart=studio.folder.source(asked.chart, asked.version),
        instrument=asked.instrument,
        level=asked.level,
        key=asked.key,
        seed=asked.seed,
        student=studio.filing.nickname(asked),
        families=asked.families,
        tempo_bpm=asked.tempo,
        studio=studio.root_url,
        swaps=tuple((n, Swap(bar, phrase)) for n, bar, phrase in asked.swaps),
    )


def ask_for(studio: Studio, asked: Asked) -> str:
    """Have a lesson made unless it is there already; its name. The wish is kept at once."""
    request = request_of(studio, asked)
    studio.folder.keep_request(asked)
    studio.faults.pop(asked.id, None)
    if not studio.folder.is_made(asked.id):
        target = studio.folder.lesson(asked.id)
        studio.maker.ask(asked.id, lambda hand: _make(studio, hand, asked, request, target))
    return asked.id


def take_up(studio: Studio) -> int:
    """Go on with what a studio that was stopped had not made yet; how many lessons that are."""
    lessons = studio.folder.root / "lessons"
    for left in lessons.glob(".*-making-*") if lessons.is_dir() else ():
        shutil.rmtree(left, ignore_errors=True)
    waiting = [one for one in studio.folder.requests() if not studio.folder.is_made(one.id)]
    for asked in reversed(waiting):
        try:
            ask_for(studio, asked)
        except ChangewrightError as fault:  # its chart is gone
            _give_up(studio, asked.id, fault_view(fault))
    return len(waiting)


def _make(studio: Studio, hand: Hand, asked: Asked, request: LessonRequest, target: Path) -> None:
    try:
        fault = hand.do(_write, request, target)
    except Stopped:
        fault = fault_view(None) | _TOO_LONG
    if fault is not None and not studio.folder.is_made(asked.id):
        _give_up(studio, asked.id, fault)  # unless a worker that outlived its studio made it


def _give_up(studio: Studio, lesson_id: str, fault: dict[str, Any]) -> None:
    while len(studio.faults) >= _MOST_FAULTS:
        studio.faults.pop(next(iter(studio.faults)), None)
    studio.faults[lesson_id] = fault
    studio.folder.forget(lesson_id)


def _write(request: LessonRequest, target: Path) -> dict[str, Any] | None:
    """A fault travels as what a page shows of it: an error would not survive the way."""
    try:
        write_lesson(plan_lesson(request), target, stem_shelf())
    except ChangewrightError as fault:
        return fault_view(fault)
    return None
