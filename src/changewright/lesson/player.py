"""The player for whom an exercise is made: instrument, range and what to keep away from."""

from dataclasses import dataclass

from changewright.lesson.level import Level
from changewright.theory.instrument import Instrument, Span, Stage
from changewright.theory.pitch import Pitch
from changewright.theory.spelling import Manner

__all__ = ["Player"]

_AWKWARD_UNTIL = 4
_CROSSINGS_UNTIL = 3
"""The last levels at which awkward notes and crossings are kept away from."""

_REGISTER = 4


@dataclass(frozen=True, slots=True)
class Player:
    """One student on one instrument.

    ``stage`` overrides the level's (a player who returns from another style reads higher than
    his harmony); ``span`` is his own range at concert pitch and overrides both. ``breath_s`` is
    seconds of playing in one breath, otherwise the instrument's table is used. ``spelling`` is
    the manner in which he wants accidentals written, None for his level's.
    """

    instrument: Instrument
    stage: Stage | None = None
    span: Span | None = None
    breath_s: float | None = None
    spelling: Manner | None = None

    def spans(self, level: Level) -> tuple[Span, ...]:
        """The ranges to write in at concert pitch, the most comfortable first."""
        if self.span is not None:
            return (self.span,)
        stage = self.stage or level.stage
        stages: tuple[Stage, ...] = ("comfort", "beginner") if stage == "comfort" else (stage,)
        return tuple(self.instrument.concert_range(s) for s in stages)

    def awkward(self, level: Level) -> tuple[Pitch, ...]:
        """Concert pitches that a writer keeps away from at this level: the instrument's awkward
        notes up to level 4, none above.

        Four or more in a row in the middle of the comfortable range are a register, such as a
        clarinet's throat notes: nobody can play round it, so it is left to the crossings.
        Source: common practice, no source.
        """
        if level.number > _AWKWARD_UNTIL:
            return ()
        comfort = self.instrument.written_range("comfort")
        kept: list[Pitch] = []
        for run in _runs(self.instrument.awkward_notes):
            inner = comfort.low.midi < run[0].midi and run[-1].midi <= comfort.high.midi + 1
            if len(run) < _REGISTER or not inner:
                kept += run
        return tuple(pitch - self.instrument.written_up for pitch in kept)

    def crossings(self, level: Level) -> tuple[tuple[int, int], ...]:
        """Pairs of concert MIDI numbers that a beginner doesn't cross quickly; none above level
        3. Source: common practice, no source."""
        if level.number > _CROSSINGS_UNTIL:
            return ()
        up = self.instrument.written_up
        return tuple(((a - up).midi, (b - up).midi) for a, b in self.instrument.crossings)

    def manner(self, level: Level) -> Manner:
        """How accidentals are written: as he wants, else easily where the level says so."""
        return self.spelling or ("easy" if level.easy_spelling else "usual")

    def breath(self, level: Level) -> float | None:
        """Seconds of playing in one breath, or None where breath is no limit."""
        if self.breath_s is not None or self.instrument.breath_s is None:
            return self.breath_s
        beginner, intermediate, professional = self.instrument.breath_s
        by_stage = {"intermediate": intermediate, "professional": professional}
        return by_stage.get(self.stage or level.stage, beginner)


def _runs(pitches: tuple[Pitch, ...]) -> list[list[Pitch]]:
    """Pitches in rising order, a semitone apart in each run."""
    runs: list[list[Pitch]] = []
    for pitch in sorted(pitches, key=lambda p: p.midi):
        if runs and pitch.midi - runs[-1][-1].midi == 1:
            runs[-1].append(pitch)
        else:
            runs.append([pitch])
    return runs
