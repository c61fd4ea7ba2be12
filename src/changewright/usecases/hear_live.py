"""Hear a take of an exercise while it is being played, so that its verdict is soon there."""

from dataclasses import dataclass, replace
from pathlib import Path

from changewright.ear.audio import Samples
from changewright.ear.hearing import Hearing
from changewright.ear.judge import judge
from changewright.ear.live import LiveTake
from changewright.ear.place import place
from changewright.ear.take import Take
from changewright.usecases.hear import backing_of
from changewright.usecases.lesson_folder import Assignment, load_assignment

__all__ = ["LiveHearing", "cut", "hear_live"]


@dataclass(frozen=True, slots=True)
class LiveHearing:
    """An exercise and the take of it that is being played."""

    asked: Assignment
    live: LiveTake

    def push(self, block: Samples) -> None:
        """Hear more of it: mono float32 samples, the first being the play-along's own start."""
        self.live.push(block)

    def finish(self, cut_s: float = 0.0, *, is_on_the_clock: bool = False) -> Hearing:
        """The verdict, as on a recording from whose head ``cut_s`` seconds were cut.

        ``is_on_the_clock`` says that the cut was measured, so that the recording has no lag of its
        own, even where the band can't be heard in it.
        """
        take, lag = self.live.finish()
        sheet, clock = self.asked.sheet, self.asked.clock
        late = None if lag is None else lag - cut_s
        if late is None and is_on_the_clock:
            late = 0.0
        take = cut(take, cut_s)
        return judge(sheet, take, clock, placement=place(take, sheet, clock, latency_s=late))


def hear_live(lesson: Path, exercise: int, rate: int) -> LiveHearing:
    """Begin to hear a take at ``rate`` samples a second; raises :class:`LessonError`."""
    asked = load_assignment(lesson, exercise)
    live = LiveTake(
        rate,
        instrument=asked.sheet.instrument,
        backing=backing_of(asked),
        count_in_s=float(asked.clock.lead_in) * asked.clock.quarter_s,
    )
    return LiveHearing(asked, live)


def cut(take: Take, head_s: float) -> Take:
    """A take without the first seconds of its recording."""
    notes = tuple(
        replace(note, onset_s=max(0.0, note.onset_s - head_s), end_s=note.end_s - head_s)
        for note in take.notes
        if note.end_s > head_s
    )
    contour, ticks = take.contour, round(head_s / take.contour.hop_s)
    return replace(
        take,
        notes=notes,
        length_s=max(0.0, take.length_s - head_s),
        contour=replace(
            contour,
            pitch=contour.pitch[ticks:],
            voicing=contour.voicing[ticks:],
            level_db=contour.level_db[ticks:],
            keys=contour.keys[ticks:],
        ),
    )
