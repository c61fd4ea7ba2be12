"""An open solo beside its changes: what was played, never whether it was right.

No page says what is right here. Every share stands beside chance (what notes drawn at random
would score) and beside the spread of solos on record, and there is no total. Whoever wants a
verdict gives an exercise: see :mod:`changewright.ear.judge`. Nothing here has been checked
against human judges.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from changewright.ear import _solo_habits, _solo_harmony, _solo_line, _solo_roles, _solo_time
from changewright.ear._solo_notes import SoloNote, laid_out
from changewright.ear._solo_words import Band, band_of, said_of
from changewright.ear.intonation import LongNote, intonation, intonation_of
from changewright.ear.measure import Measure
from changewright.ear.pulse import Pulse
from changewright.ear.take import Take
from changewright.music.bar import FOUR_FOUR
from changewright.music.clock import Clock
from changewright.music.promise import Promise
from changewright.reading.model import Reading
from changewright.theory.instrument import Instrument

__all__ = [
    "FORMAT",
    "Band",
    "SoloHearing",
    "solo_document",
    "study_solo",
]

FORMAT = "changewright-solo/1"
LEAST_SURE = 0.85
LEAST_NOTES = 40
HEADS = ("What worked", "To work on", "For next week")
_CLOCKLESS = ("J14", "J16", "J17")


@dataclass(frozen=True, slots=True)
class SoloHearing:
    """Measures of an open solo. ``compared`` is False where no comparison with the record is
    fair (``reason`` says why); the plain values stay."""

    title: str
    notes: int
    choruses: float
    measures: tuple[Measure, ...]
    compared: bool
    reason: str
    level: int | None = None
    pulse: Pulse | None = None

    def band(self, measure: Measure) -> Band:
        """Where a measure lies beside what the player's level asks; shown only where no comparison
        is fair or no level is known."""
        if self.level is None or not self.compared:
            return Band.SHOWN
        return band_of(measure, self.level)

    def said(self) -> tuple[tuple[str, str], ...]:
        """One thing that worked, one to change, one for next week, each under its head; nothing
        where no comparison is fair."""
        if self.level is None or not self.compared:
            return ()
        texts = said_of(self.measures, self.level)
        return tuple((head, text) for head, text in zip(HEADS, texts, strict=True) if text)

    @property
    def pitch(self) -> str:
        """Intonation in words; ``""`` where there is nothing to tell."""
        return intonation_of(self.measures, level=self.level, with_band=self.pulse is None)

    def measure(self, name: str) -> Measure | None:
        """One measure by its id, such as ``"J1"``; None where nothing could be counted."""
        return next((m for m in self.measures if m.id == name), None)

    def lines(self) -> tuple[str, ...]:
        """Each measure in words, with its count."""
        head = (self.reason,) if self.reason else ()
        return head + tuple(self._line(m) for m in self.measures)

    def _line(self, measure: Measure) -> str:
        band = self.band(measure)
        said = measure.sentence(self.compared)
        return said if band is Band.SHOWN else f"{said[:-1]}: {band.value}."


def study_solo(
    take: Take,
    reading: Reading,
    clock: Clock,
    *,
    latency_s: float = 0.0,
    baseline: bool = True,
    level: int | None = None,
    planned: Sequence[Promise] = (),
    pulse: Pulse | None = None,
    instrument: Instrument | None = None,
) -> SoloHearing:
    """Measure a solo over one or more choruses of a reading.

    ``latency_s`` is the lag of the recording (from the count-in or a calibration).
    ``level`` (1 to 8) says what is asked at all; ``planned`` may hold phrases that were to be
    played somewhere. ``pulse`` is that of a free take: where it is not sure, only what needs no
    beat is measured. Notes are named as the player of ``instrument`` reads them, at concert pitch
    where it isn't given.
    ``baseline`` says that the feel is swing; only swing in 4/4 has a record to compare with.
    """
    solo = laid_out(take, reading, clock, latency_s)
    sure = [n for n in solo if n.sure]
    measures = (
        *_solo_harmony.measures(sure, reading),
        *_solo_roles.measures(sure, reading),
        *_solo_time.measures(sure, clock),
        *_solo_line.measures(sure, clock, reading.key, instrument),
        *_solo_habits.measures(sure, reading, instrument),
        *_intonation(take, sure, reading, instrument, placed=pulse is None or pulse.sure),
        *_solo_roles.phrase_measures(sure, planned),
    )
    if pulse is not None:
        measures = tuple(m for m in measures if _needs_no_clock(m, pulse.sure))
    length = float(reading.bars[-1].end - reading.bars[0].start)
    span = sure[-1].end - sure[0].at if sure else 0.0
    reason = _reason(solo, sure, reading, baseline)
    if pulse is not None and not pulse.sure:
        reason = pulse.reason
    return SoloHearing(
        title=reading.title,
        notes=len(sure),
        choruses=round(span / length, 2),
        measures=measures,
        compared=not reason,
        reason=reason,
        level=level,
        pulse=pulse,
    )


def _intonation(
    take: Take,
    sure: list[SoloNote],
    reading: Reading,
    instrument: Instrument | None,
    *,
    placed: bool,
) -> list[Measure]:
    if take.source == "midi":
        return []
    long = (
        LongNote(n.at, n.length_s, n.midi, n.cents, n.change.change.chord if placed else None)
        for n in sure
    )
    return intonation(long, reading.key, instrument, take.tuning)


def _needs_no_clock(measure: Measure, sure: bool) -> bool:
    """Of a free take the place against the beat means nothing: the beat is the player's own. Where
    the pulse isn't sure, only intervals, range and intonation can be told."""
    return measure.id != "J10" if sure else measure.id.startswith(_CLOCKLESS)


def _reason(solo: list[SoloNote], sure: list[SoloNote], reading: Reading, baseline: bool) -> str:
    if not sure:
        return "No notes could be heard: there is nothing to say."
    if len(sure) < LEAST_SURE * len(solo):
        return "Too much could not be heard clearly to compare it with anything."
    if len(sure) < LEAST_NOTES:
        return f"{len(sure)} notes are too few to say anything by comparison."
    if not baseline or any(bar.meter != FOUR_FOUR for bar in reading.bars):
        return "There is no record of solos in this feel or meter to compare with."
    return ""


def solo_document(hearing: SoloHearing) -> dict[str, Any]:
    """A solo's measures as plain values for JSON; comparisons only where they are fair."""
    return {
        "format": FORMAT,
        "title": hearing.title,
        "notes": hearing.notes,
        "choruses": hearing.choruses,
        "compared": hearing.compared,
        "reason": hearing.reason,
        "level": hearing.level,
        "pulse": None if hearing.pulse is None else hearing.pulse.document(),
        "measures": [
            m.document(hearing.compared) | {"band": hearing.band(m).value} for m in hearing.measures
        ],
        "remarks": [{"head": head, "text": text} for head, text in hearing.said()],
        "pitch": hearing.pitch,
    }
