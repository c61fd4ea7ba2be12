"""The main job on the Quayside workshop's demo chart, with a take whose mistakes are known."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

from changewright.chart.shelf import shelf_chart
from changewright.chart.writer import write_chart
from changewright.ear.document import hearing_document
from changewright.ear.hearing import Fault, Hearing
from changewright.music.document import Document
from changewright.music.line import Note
from changewright.music.performance import Event, Performance
from changewright.music.sheet import Sheet
from changewright.sound.files import write_take
from changewright.sound.stems import render
from changewright.usecases.folder import whole_folder
from changewright.usecases.hear import hear_take
from changewright.usecases.lesson import Exercise, Lesson, LessonRequest, plan_lesson
from changewright.usecases.lesson_folder import write_lesson

__all__ = [
    "CHART",
    "DEMO",
    "MARKER",
    "PLANTED",
    "Demo",
    "Planted",
    "play_with_mistakes",
    "run_demo",
]

CHART = "quayside-blues"
MARKER = "demo.json"
DEMO = LessonRequest(
    chart=CHART,
    instrument="tenor saxophone",
    level=1,
    seed=7,
    student="Tenor saxophone, Thursday",
)


@dataclass(frozen=True, slots=True)
class Planted:
    """One mistake to be played on purpose at a bar and beat."""

    bar: int
    beat: str
    fault: Fault


PLANTED = (
    Planted(3, "3", Fault.WRONG_NOTE),
    Planted(6, "2", Fault.NOT_HEARD),
    Planted(9, "1", Fault.LATE),
)
"""What the demo's player does wrong in exercise 1, and the listening notes must name."""

LATE_S = 0.3
USUAL_LATENESS_S = 0.025
SPREAD_S = 0.010
BLEED = 0.06


@dataclass(frozen=True, slots=True)
class Demo:
    """What the demo made: the lesson, the manifest, the hearing, and where it all lies."""

    folder: Path
    lesson: Lesson
    manifest: Document
    hearing: Hearing
    planted: tuple[Planted, ...] = PLANTED
    marker: str = MARKER

    @property
    def is_right(self) -> bool:
        """The hearing named what was played wrong, and nothing else."""
        return set(self.named) == set(self.planted)

    @property
    def named(self) -> tuple[Planted, ...]:
        """The mistakes that the hearing named."""
        return tuple(Planted(m.bar, m.beat, m.fault) for m in self.hearing.mistakes)


def run_demo(folder: Path) -> Demo:
    """Read, compose, print, play, record and hear; everything goes into ``folder``."""
    lesson = plan_lesson(DEMO)
    with whole_folder(folder, MARKER) as making:
        (making / f"{CHART}.txt").write_text(write_chart(shelf_chart(CHART)), encoding="utf-8")
        manifest = write_lesson(lesson, making / "lesson")
        _record(lesson.exercises[0], PLANTED, making / "take.wav")
        hearing = hear_take(making / "take.wav", making / "lesson", 1)
        document = {
            "planted": [[p.bar, p.beat, p.fault.value] for p in PLANTED],
            "hearing": hearing_document(hearing),
        }
        text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
        (making / MARKER).write_text(text, encoding="utf-8")
    return Demo(folder, lesson, manifest, hearing)


def play_with_mistakes(
    exercise: Exercise, planted: Iterable[Planted], seed: int = 1
) -> Performance:
    """The band, and a player a little late and uneven as people are, who makes these mistakes."""
    dice = Random(f"take/{seed}")
    faults = {(one.bar, one.beat): one.fault for one in planted}
    line = exercise.performance.part("line")
    events = [
        _human(played, dice)
        for note, event in zip(exercise.sheet.line.notes, line.events, strict=True)
        for played in _misplayed(event, faults.get(_place(exercise.sheet, note)))
    ]
    others = tuple(p for p in exercise.performance.parts if p.name != "line")
    return Performance(
        (*others, replace(line, events=tuple(events))), exercise.performance.length_s
    )


def _record(exercise: Exercise, planted: Iterable[Planted], path: Path) -> None:
    """What a microphone before the player hears: the line, and a little of the band."""
    stems = render(play_with_mistakes(exercise, planted))
    line = stems["line"]
    write_take(path, line + BLEED * (stems.mix - line), stems.rate)


def _place(sheet: Sheet, note: Note) -> tuple[int, str]:
    bar = sheet.bar_at(note.onset)
    return bar.number, bar.beat_of(note.onset)


def _misplayed(event: Event, fault: Fault | None) -> Iterator[Event]:
    if fault is Fault.WRONG_NOTE:
        yield replace(event, midi=event.midi + 1)
    elif fault is Fault.LATE:
        shorter = max(0.1, event.duration_s - LATE_S)
        yield replace(event, onset_s=event.onset_s + LATE_S, duration_s=shorter)
    elif fault is not Fault.NOT_HEARD:
        yield event


def _human(event: Event, dice: Random) -> Event:
    lateness = USUAL_LATENESS_S + dice.gauss(0, SPREAD_S)
    velocity = min(120, max(30, event.velocity + round(dice.gauss(0, 4))))
    return replace(event, onset_s=event.onset_s + lateness, velocity=velocity)
