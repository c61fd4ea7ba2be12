"""Lessons made in turn, in a process apart, so that pages stay quick meanwhile.

What was asked for is kept first. A studio that was stopped in the middle finds it again when it
starts, and a lesson that is there is not made again. One that could not be made is not tried again
before somebody asks for it: why is kept beside it.
"""

import logging
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

__all__ = ["ask_for", "request_of", "state_of", "take_up", "unmade"]

_LOG = logging.getLogger(__name__)
_TOO_LONG = {
    "what": "This lesson took more time or memory than a lesson may.",
    "remedy": "Choose fewer exercises, or a shorter chart.",
}
_BROKE = {
    "what": "This lesson could not be made: something went wrong in the studio itself.",
    "remedy": "Try again. If it fails again, ask for another one like it; what the studio prints "
    "where it was started says more.",
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
    studio.folder.pardon(asked.id)
    if not studio.folder.is_made(asked.id):
        target = studio.folder.lesson(asked.id)
        studio.maker.ask(asked.id, lambda hand: _make(studio, hand, asked, request, target))
    return asked.id


def take_up(studio: Studio) -> int:
    """Go on with what a studio that was stopped had not made yet; how many lessons that are."""
    lessons = studio.folder.root / "lessons"
    for left in lessons.glob(".*-making-*") if lessons.is_dir() else ():
        shutil.rmtree(left, ignore_errors=True)
    folder = studio.folder
    waiting = [one for one in unmade(studio) if folder.fault(one.id) is None]
    for asked in reversed(waiting):
        try:
            ask_for(studio, asked)
        except ChangewrightError as fault:  # its chart is gone
            folder.fail(asked.id, fault_view(fault))
    return len(waiting)


def unmade(studio: Studio) -> list[Asked]:
    """The lessons that were asked for and are not there, the latest first."""
    return [one for one in studio.folder.requests() if not studio.folder.is_made(one.id)]


def state_of(studio: Studio, lesson_id: str) -> dict[str, Any]:
    """How far a lesson is: ``state`` made, failed, waiting, working or unknown, and ``words``."""
    if studio.folder.fault(lesson_id) is not None:
        return {"state": "failed", "words": "It could not be made."}
    if studio.folder.is_made(lesson_id):
        return {"state": "made", "words": "It is there."}
    told = studio.maker.standing(lesson_id)
    if told.state == "waiting" and told.ahead:
        before = "one other is" if told.ahead == 1 else f"{told.ahead} others are"
        return {"state": "waiting", "words": f"{before[0].upper()}{before[1:]} made first."}
    said = "It is being composed, engraved and sounded." if told.state == "working" else "Next."
    return {"state": told.state, "words": said}


def _make(studio: Studio, hand: Hand, asked: Asked, request: LessonRequest, target: Path) -> None:
    try:
        fault = hand.do(_write, request, target)
    except Stopped:
        fault = fault_view(None) | _TOO_LONG
    except Exception:
        # nobody waits for this work but a page that asks how far it is
        _LOG.exception("lesson %s could not be made", asked.id)
        fault = fault_view(None) | _BROKE
    if fault is not None and not studio.folder.is_made(asked.id):
        studio.folder.fail(asked.id, fault)  # unless a worker that outlived its studio made it


def _write(request: LessonRequest, target: Path) -> dict[str, Any] | None:
    """A fault travels as what a page shows of it: an error would not survive the way."""
    try:
        write_lesson(plan_lesson(request), target, stem_shelf())
    except ChangewrightError as fault:
        return fault_view(fault)
    return None
