"""Hear a take: against an exercise of a lesson, or as an open solo over its changes."""

from pathlib import Path

from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.ear.audio import Audio, load_audio
from changewright.ear.hear import hear
from changewright.ear.hearing import Hearing
from changewright.ear.judge import judge
from changewright.ear.lag import lag_of, without_backing
from changewright.ear.midi import load_midi
from changewright.ear.solo import SoloHearing, study_solo
from changewright.ear.transcribe import transcribe
from changewright.errors import TakeError
from changewright.reading.analyse import analyse
from changewright.usecases.lesson_folder import Assignment, load_assignment

__all__ = ["hear_solo", "hear_take"]

MIDI = (".mid", ".midi")
SWINGS = ("swing", "shuffle")


def hear_take(take: Path, lesson: Path, exercise: int) -> Hearing:
    """Turn a recording into notes, place them on the chorus, and say what was met, bar by bar.

    The lesson's own stems tell the recording's lag from the count-in and are taken out of it.
    Raises :class:`TakeError` for a recording that can't be judged, :class:`LessonError` for a
    lesson that can't be used.
    """
    asked = load_assignment(lesson, exercise)
    if _is_midi(take):
        return judge(asked.sheet, load_midi(take), asked.clock)
    return hear(load_audio(take), asked.sheet, asked.clock, backing=_backing(asked))


def hear_solo(take: Path, lesson: Path, exercise: int) -> SoloHearing:
    """Measure a free chorus played to the band of an exercise; nothing is called right or wrong."""
    asked = load_assignment(lesson, exercise)
    reading = analyse(unroll(read_chart(asked.chart)))
    baseline = asked.sheet.feel in SWINGS
    if _is_midi(take):
        return study_solo(load_midi(take), reading, asked.clock, baseline=baseline)
    audio, backing, lag = load_audio(take), _backing(asked), None
    if backing is not None:
        lag = lag_of(audio, backing, float(asked.clock.lead_in) * asked.clock.quarter_s)
        audio = audio if lag is None else without_backing(audio, backing, lag)
    notes = transcribe(audio, instrument=asked.sheet.instrument)
    return study_solo(notes, reading, asked.clock, latency_s=lag or 0.0, baseline=baseline)


def _is_midi(take: Path) -> bool:
    return take.suffix.lower() in MIDI


def _backing(asked: Assignment) -> Audio | None:
    """The band as the student heard it, or None where its stems are no longer there."""
    try:
        stems = [load_audio(path) for path in asked.backing]
    except TakeError:
        return None
    if not stems or len({(stem.rate, len(stem.samples)) for stem in stems}) != 1:
        return None
    total = stems[0].samples.copy()
    for stem in stems[1:]:
        total += stem.samples
    return Audio(total, stems[0].rate)
