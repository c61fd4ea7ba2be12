"""Hear a take: against an exercise of a lesson, or as an open solo over its changes."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.ear.audio import Audio, load_audio
from changewright.ear.hear import heard_take
from changewright.ear.hearing import Hearing
from changewright.ear.judge import judge, judge_free
from changewright.ear.midi import load_midi
from changewright.ear.place import place
from changewright.ear.pulse import pulse_of_solo
from changewright.ear.solo import SoloHearing, study_solo
from changewright.ear.take import Take
from changewright.ear.transcribe import transcribe
from changewright.errors import TakeError
from changewright.music.clock import Clock
from changewright.music.sheet import Sheet
from changewright.reading.analyse import analyse
from changewright.usecases.lesson_folder import Assignment, load_assignment

__all__ = [
    "Listened",
    "ListenedSolo",
    "backing_of",
    "hear_solo",
    "hear_take",
    "listen",
    "listen_solo",
]

MIDI = (".mid", ".midi")
SWINGS = ("swing", "shuffle")


@dataclass(frozen=True, slots=True)
class Listened:
    """A take of an exercise and all that is known of it; ``audio`` is None for a MIDI take."""

    sheet: Sheet
    clock: Clock
    take: Take
    hearing: Hearing
    audio: Audio | None


@dataclass(frozen=True, slots=True)
class ListenedSolo:
    """An open solo over the changes of ``sheet`` and all that is known of it; ``latency_s`` is the
    recording's lag on ``clock``, ``audio`` None for a MIDI take."""

    sheet: Sheet
    clock: Clock
    take: Take
    hearing: SoloHearing
    latency_s: float
    audio: Audio | None


def hear_take(take: Path, lesson: Path, exercise: int) -> Hearing:
    """Turn a recording into notes, place them on the chorus, and say what was met, bar by bar.

    The lesson's own stems tell the recording's lag from the count-in and are taken out of it.
    Raises :class:`TakeError` for a recording that can't be judged, :class:`LessonError` for a
    lesson that can't be used.
    """
    return listen(take, lesson, exercise).hearing


def listen(take: Path, lesson: Path, exercise: int, *, free: bool = False) -> Listened:
    """As :func:`hear_take`, and keep the notes and the sound for a page.

    ``free`` says that the take was recorded without the play-along: its tempo and its first bar
    are then found in itself.
    """
    asked = load_assignment(lesson, exercise)
    sheet, clock = asked.sheet, asked.clock
    if free:
        return _listen_freely(take, sheet, clock.swing_ratio)
    if _is_midi(take):
        notes = load_midi(take)
        return Listened(sheet, clock, notes, judge(sheet, notes, clock), None)
    audio = load_audio(take)
    notes, lag = heard_take(audio, sheet, clock, backing=backing_of(asked))
    placement = place(notes, sheet, clock, latency_s=lag)
    hearing = judge(sheet, notes, clock, placement=placement)
    return Listened(sheet, clock, notes, hearing, audio)


def _listen_freely(take: Path, sheet: Sheet, swing_ratio: float) -> Listened:
    audio = None if _is_midi(take) else load_audio(take)
    notes = load_midi(take) if audio is None else transcribe(audio, instrument=sheet.instrument)
    hearing = judge_free(sheet, notes, swing_ratio=swing_ratio)
    pulse = hearing.pulse
    clock = Clock(sheet.tempo_bpm, swing_ratio) if pulse is None else pulse.clock(swing_ratio)
    return Listened(sheet, clock, notes, hearing, audio)


def hear_solo(take: Path, lesson: Path, exercise: int, *, free: bool = False) -> SoloHearing:
    """Measure an open solo over the changes of an exercise; nothing is called right or wrong.

    ``free`` says that it was recorded without the play-along.
    """
    return listen_solo(take, lesson, exercise, free=free).hearing


def listen_solo(take: Path, lesson: Path, exercise: int, *, free: bool = False) -> ListenedSolo:
    """As :func:`hear_solo`, and keep the notes and the sound for a page."""
    asked = load_assignment(lesson, exercise)
    reading = analyse(unroll(read_chart(asked.chart)))
    audio = None if _is_midi(take) else load_audio(take)
    if audio is None:
        notes, lag = load_midi(take), None
    else:
        backing = None if free else backing_of(asked)
        notes, lag = heard_take(audio, asked.sheet, asked.clock, backing=backing)
    clock, pulse = asked.clock, None
    if free:
        pulse = pulse_of_solo(notes, reading, asked.sheet.tempo_bpm)
        clock = pulse.clock()
    hearing = study_solo(
        notes,
        reading,
        clock,
        latency_s=lag or 0.0,
        baseline=asked.sheet.feel in SWINGS,
        level=asked.sheet.recipe.level,
        planned=asked.sheet.promises,
        pulse=pulse,
        instrument=asked.sheet.instrument,
    )
    return ListenedSolo(asked.sheet, clock, notes, hearing, lag or 0.0, audio)


def _is_midi(take: Path) -> bool:
    return take.suffix.lower() in MIDI


def backing_of(asked: Assignment) -> Audio | None:
    """The band as the student heard it, or None where its stems are no longer there; not to be
    changed, as a class that plays the same exercise shares it."""
    try:
        return _backing(tuple((path, path.stat().st_mtime_ns) for path in asked.backing))
    except OSError:
        return None


@lru_cache(4)
def _backing(stamped: tuple[tuple[Path, int], ...]) -> Audio | None:
    try:
        stems = [load_audio(path) for path, _ in stamped]
    except TakeError:
        return None
    if not stems or len({(stem.rate, len(stem.samples)) for stem in stems}) != 1:
        return None
    total = stems[0].samples.copy()
    for stem in stems[1:]:
        total += stem.samples
    total.setflags(write=False)
    return Audio(total, stems[0].rate)
