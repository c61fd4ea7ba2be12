"""From a chart and a student to a lesson: read, compose, accompany."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from changewright.band.accompany import accompany
from changewright.band.clocks import clocks_of
from changewright.band.perform import perform_line
from changewright.chart.chart import Chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError
from changewright.lesson.compose import compose, grounds
from changewright.lesson.ground import Ground
from changewright.lesson.level import Level
from changewright.lesson.phrase import Phrase
from changewright.lesson.player import Player
from changewright.lesson.swap import Swap, swapped
from changewright.music.clock import Clock
from changewright.music.performance import Performance
from changewright.music.sheet import Sheet
from changewright.page import LookName, Paper, Print, written_reading
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.spelling import Manner
from changewright.theory.symbols import Style
from changewright.usecases.charts import open_chart
from changewright.usecases.instruments import named_instrument
from changewright.usecases.levels import asked_level
from changewright.usecases.phrases import phrases_in

__all__ = [
    "Answers",
    "Exercise",
    "Lesson",
    "LessonRequest",
    "at_tempo",
    "plan_lesson",
    "swap_ground",
]


COUNT_IN_BARS = 1

Answers = Literal["open", "filled", "key"]
"""What a page shows of what the student fills in."""


@dataclass(frozen=True, slots=True)
class LessonRequest:
    """What a teacher asks for.

    ``chart`` is a file or a name of the shelf; ``families`` are ids, none for the level's first
    ones; ``tempo_bpm`` is in quarters a minute, None for the level's own; ``instruments`` is a
    TOML file of the player's own instruments. ``answers`` says what the page shows of the blanks:
    nothing, the answers in place, or a key at the back. ``studio`` is the address of a studio
    that the page's codes open, None for a page without codes. ``phrases`` is a folder of a
    teacher's own phrases. ``chords`` is the style of chord
    symbols on the page, ``spelling`` the manner of accidentals, None for the level's. ``swaps``
    are phrases to stand in the place of bars, each with the number of its exercise. ``language``
    is the page's, by its code. ``own_level`` is a file with a level of the teacher's own, which
    then stands in the place of ``level``.
    """

    chart: str
    instrument: str
    level: int = 1
    key: str | None = None
    seed: int = 1
    student: str = ""
    tempo_bpm: int | None = None
    families: tuple[str, ...] = ()
    paper: Paper = "a4"
    look: LookName = "plain"
    relax: bool = False
    instruments: Path | None = None
    size: Print = "usual"
    answers: Answers = "open"
    studio: str | None = None
    phrases: Path | None = None
    chords: Style = "abbreviated"
    spelling: Manner | None = None
    swaps: tuple[tuple[int, Swap], ...] = ()
    language: str = "en"
    own_level: Path | None = None


@dataclass(frozen=True, slots=True)
class Exercise:
    """One exercise: its sheet, the band and line that play it on one time axis, and the soloist's
    clock, by which a take is heard."""

    number: int
    sheet: Sheet
    clock: Clock
    performance: Performance

    @property
    def slug(self) -> str:
        """The name of its files, such as ``1-root-up``."""
        return f"{self.number}-{self.sheet.recipe.family}"


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson, composed and not yet written down.

    ``written`` is the chorus read at the pitch that the player sees, for the page; it is the
    ``reading`` itself for a player at concert pitch.
    """

    request: LessonRequest
    chart: Chart
    reading: Reading
    written: Reading
    exercises: tuple[Exercise, ...]

    @property
    def title(self) -> str:
        """The chart's title."""
        return self.chart.title

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        """The exercises' sheets in order."""
        return tuple(exercise.sheet for exercise in self.exercises)


def plan_lesson(request: LessonRequest) -> Lesson:
    """Read the chart and compose the exercises; nothing is written.

    Raises an :class:`InputError` for what can't be used and a :class:`Refusal` where the rules
    leave no line.
    """
    reader = named_instrument(request.instrument, request.instruments)
    player = Player(reader, spelling=request.spelling)
    rung = asked_level(request.level, request.own_level)
    chart = open_chart(request.chart, request.key)
    form = unroll(chart)
    reading = analyse(form)
    phrases = phrases_in(request.phrases)
    sheets = tuple(
        compose(
            reading,
            player,
            rung,
            family,
            request.seed,
            tempo_bpm=request.tempo_bpm,
            feel=form.feel,
            chart=form.digest,
            relax=request.relax,
            phrases=phrases,
            melody=form.melody,
        )
        for family in request.families or rung.first_families
    )
    if request.swaps:
        ground = swap_ground(reading, player, rung, phrases)
        sheets = tuple(
            swapped(sheet, ground, [swap for number, swap in request.swaps if number == n])
            for n, sheet in enumerate(sheets, start=1)
        )
    exercises = tuple(_exercise(n, sheet, reading) for n, sheet in enumerate(sheets, start=1))
    written = written_reading(form, reading, player.instrument, manner=sheets[0].spelling)
    return Lesson(request, chart, reading, written, exercises)


def swap_ground(
    reading: Reading, player: Player, rung: Level, phrases: tuple[Phrase, ...] = ()
) -> Ground:
    """The ground on which phrases are fitted into a lesson; raises :class:`InputError`."""
    for ground in grounds(reading, player, rung, "free-rhythm", phrases=phrases):
        return ground
    raise InputError("the chart has no chord to play on", remedy="Write at least one chord.")


def at_tempo(exercise: Exercise, reading: Reading, tempo_bpm: int) -> Exercise:
    """The same notes played at another tempo (quarters a minute)."""
    return _exercise(exercise.number, replace(exercise.sheet, tempo_bpm=tempo_bpm), reading)


def _exercise(number: int, sheet: Sheet, reading: Reading) -> Exercise:
    recipe = sheet.recipe
    clocks = clocks_of(
        sheet.feel, sheet.tempo_bpm, sheet.bars[0].meter, count_in_bars=COUNT_IN_BARS
    )
    band = accompany(
        reading,
        bpm=sheet.tempo_bpm,
        feel=sheet.feel,
        seed=recipe.seed + number - 1,  # so that no two exercises of a lesson are played alike
        level=recipe.level,
        count_in_bars=COUNT_IN_BARS,
    )
    line = perform_line(sheet, clocks=clocks, seed=recipe.seed)
    performance = Performance((*band.parts, line), band.length_s)
    return Exercise(number, sheet, clocks.line, performance)
