"""Judge a take of an assigned exercise against what its sheet asks.

Pitch is judged as pitch class within 50 cents of the take's own tuning, by how long it sounds and
on the beats the sheet names; time is judged around the player's own usual place. Where the
listener isn't sure there is no verdict.
"""

from bisect import bisect_right
from dataclasses import replace

import numpy as np

from changewright.ear import _notes, _promises
from changewright.ear._scene import Scene, events_of
from changewright.ear._sounding import Sounding
from changewright.ear._window import Window, window_of
from changewright.ear.hearing import BarHearing, Finding, Hearing, Timing, Verdict
from changewright.ear.intonation import LongNote, intonation
from changewright.ear.measure import Measure
from changewright.ear.place import Placement, place
from changewright.ear.pulse import pulse_of_exercise
from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.music.sheet import Sheet

__all__ = ["judge", "judge_free"]

MOST_UNSURE = 0.15
LEAST_FOUND = 0.3
FEW_NOTES = 3
MUCH_COMPANY = 0.1  # of the time another's notes are heard too


def judge(
    sheet: Sheet,
    take: Take,
    clock: Clock,
    *,
    level: int | None = None,
    placement: Placement | None = None,
) -> Hearing:
    """Hear a take against a sheet, bar by bar.

    ``clock`` is the play-along's, ``level`` (1 to 8) sets the windows and is the sheet's own if not
    given. ``placement`` is found by :func:`place` where it is not given. Source of the windows and
    of the share of uncertain notes: common practice, no source.
    """
    asked = sheet.recipe.level if level is None else level
    laid = placement or place(take, sheet, clock)
    window = window_of(asked, clock)
    sounding = Sounding(take)
    answers = _notes.answers(sheet, take, clock, laid, window)
    written = _notes.findings(answers, sounding, window)
    events = events_of(sheet, take, clock, laid, answers, written)
    promised = _promises.findings(Scene(sheet, clock, laid, window, sounding, events))
    bars = _bars(sheet, written + promised, _notes.extra(sheet, take, clock, laid, answers), laid)
    judged, reason = _fair(take, laid, written or promised)
    return Hearing(
        title=sheet.title,
        instrument=sheet.instrument,
        key=sheet.key,
        quarter_s=clock.quarter_s,
        level=asked,
        grid=sheet.bars,
        bars=bars,
        placement=laid,
        timing=_timing(written, laid, clock, window, answers),
        tuning_hz=take.tuning_hz,
        judged=judged,
        reason=reason,
        intonation=_intonation(sheet, take, written),
        with_band=sounding.is_crowded,
    )


def judge_free(
    sheet: Sheet, take: Take, *, swing_ratio: float = 1.0, level: int | None = None
) -> Hearing:
    """Hear a take that was recorded without the play-along, by the pulse found in it.

    Where the pulse isn't sure the take is not judged at all: what is late can't be told from what
    is slow.
    """
    pulse = pulse_of_exercise(take, sheet, swing_ratio)
    hearing = judge(sheet, take, pulse.clock(swing_ratio), level=level)
    if pulse.sure or not hearing.judged:
        return replace(hearing, pulse=pulse)
    return replace(hearing, pulse=pulse, judged=False, reason=pulse.reason)


def _bars(
    sheet: Sheet,
    findings: list[Finding],
    extra: list[tuple[int, HeardNote]],
    laid: Placement,
) -> tuple[BarHearing, ...]:
    def of(bar: int, verdict: Verdict) -> tuple[Finding, ...]:
        return tuple(f for f in findings if f.ask.bar == bar and f.verdict is verdict)

    shifts = dict(zip((b.number for b in sheet.bars), laid.shifts, strict=True))
    return tuple(
        BarHearing(
            number=bar.number,
            asked=tuple(f.ask for f in findings if f.ask.bar == bar.number),
            met=of(bar.number, Verdict.MET),
            missed=of(bar.number, Verdict.MISSED),
            unsure=of(bar.number, Verdict.UNSURE),
            extra=tuple(note for number, note in extra if number == bar.number),
            shift_beats=shifts[bar.number],
        )
        for bar in sheet.bars
    )


def _fair(take: Take, laid: Placement, findings: list[Finding]) -> tuple[bool, str]:
    """May anything be said of this take at all, and if not, why."""
    sure = [n for n in take.notes if n.confidence > 0.5]
    if len(sure) < FEW_NOTES:
        return False, "No notes could be heard: there is nothing to judge."
    met = sum(f.verdict is Verdict.MET for f in findings)
    unsure = sum(f.verdict is Verdict.UNSURE for f in findings)
    lost = met < LEAST_FOUND * len(findings) and not laid.slips
    unclear = unsure > MOST_UNSURE * len(findings)
    if findings and (lost or unclear) and take.company > MUCH_COMPANY:
        return False, (
            "More than one line is heard at a time, so yours could not be followed. Record one "
            "melodic instrument alone, with the play-along on headphones."
        )
    if findings and lost:
        return False, (
            "Hardly a note of this exercise was recognised. Is it the right exercise, and was the "
            "play-along running?"
        )
    if findings and unclear:
        return False, (
            f"{unsure} of {len(findings)} places could not be heard clearly enough. Play nearer to "
            "the microphone, or with headphones, and record again."
        )
    return True, ""


def _intonation(sheet: Sheet, take: Take, findings: list[Finding]) -> tuple[Measure, ...]:
    """Of the notes that were met: how far another note lies from what was asked says nothing."""
    if take.source == "midi":
        return ()
    changes = [c for bar in sheet.bars for c in bar.changes]
    starts = [c.onset for c in changes]
    long = [
        LongNote(
            f.heard.onset_s,
            f.heard.length_s,
            f.heard.midi,
            f.heard.cents,
            changes[max(0, bisect_right(starts, f.ask.start) - 1)].chord,
        )
        for f in findings
        if f.verdict is Verdict.MET and f.heard is not None
    ]
    return tuple(intonation(long, sheet.key, sheet.instrument, take.tuning))


def _timing(
    findings: list[Finding],
    laid: Placement,
    clock: Clock,
    window: Window,
    answers: list[_notes.Answer],
) -> Timing:
    counted = [f for f in findings if f.lateness_s is not None and f.verdict is not Verdict.UNSURE]
    late = np.array([f.lateness_s for f in counted], dtype=float)
    kept = late[np.abs(late) < 0.5 * clock.quarter_s] if len(late) else late
    raw = [a.lateness_s + a.local_s for a in answers if a.lateness_s is not None]
    edge = max(1, len(raw) // 6)
    drift = float(np.median(raw[-edge:]) - np.median(raw[:edge])) if len(raw) >= 12 else 0.0
    return Timing(
        offset_s=laid.offset_s,
        spread_s=float(kept.std()) if len(kept) > 1 else 0.0,
        drift_beats=drift / clock.quarter_s,
        in_window=int((np.abs(late) <= window.onset_s).sum()),
        counted=len(counted),
    )
