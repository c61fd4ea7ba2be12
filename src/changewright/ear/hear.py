"""The whole way from a recording to a verdict, with or without the band in the microphone."""

from changewright.ear._engines import Engines
from changewright.ear.audio import Audio
from changewright.ear.hearing import Hearing
from changewright.ear.judge import judge
from changewright.ear.live import LiveTake
from changewright.ear.place import place
from changewright.ear.take import Take
from changewright.ear.transcribe import transcribe
from changewright.music.clock import Clock
from changewright.music.sheet import Sheet

__all__ = ["hear", "heard_take"]


def hear(
    audio: Audio,
    sheet: Sheet,
    clock: Clock,
    *,
    backing: Audio | None = None,
    level: int | None = None,
    engines: Engines | None = None,
) -> Hearing:
    """Hear a take of an assigned exercise.

    ``backing`` is the play-along as it was played to the student, count-in first. Where it can be
    heard in the take's count-in it gives the latency, and is taken out before the notes are told;
    where it can't (headphones), the take is heard as it is.
    """
    take, lag = heard_take(audio, sheet, clock, backing=backing, engines=engines)
    placement = place(take, sheet, clock, latency_s=lag)
    return judge(sheet, take, clock, level=level, placement=placement)


def heard_take(
    audio: Audio,
    sheet: Sheet,
    clock: Clock,
    *,
    backing: Audio | None = None,
    engines: Engines | None = None,
) -> tuple[Take, float | None]:
    """The notes of a take, the band taken out of it where it can be heard, and the recording's lag
    on the play-along where the count-in tells it."""
    if backing is None:
        return transcribe(audio, instrument=sheet.instrument, engines=engines), None
    live = LiveTake(
        audio.rate,
        instrument=sheet.instrument,
        backing=backing,
        count_in_s=float(clock.lead_in) * clock.quarter_s,
        engines=engines,
    )
    live.push(audio.samples)
    return live.finish()
