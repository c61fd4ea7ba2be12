"""Hear a take against an exercise of a lesson."""

from pathlib import Path

from changewright.ear.audio import load_audio
from changewright.ear.hearing import Hearing
from changewright.ear.judge import judge
from changewright.ear.transcribe import transcribe
from changewright.usecases.lesson_folder import load_assignment

__all__ = ["hear_take"]


def hear_take(take: Path, lesson: Path, exercise: int) -> Hearing:
    """Turn a recording into notes, place them on the chorus, and say what was met, bar by bar.

    Raises :class:`TakeError` for a recording that can't be judged, :class:`LessonError` for a
    lesson that can't be used.
    """
    assignment = load_assignment(lesson, exercise)
    heard = transcribe(load_audio(take), instrument=assignment.sheet.instrument)
    return judge(assignment.sheet, heard, assignment.clock)
