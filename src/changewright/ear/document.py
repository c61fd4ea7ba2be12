"""A hearing as plain values for JSON. The shape is described in ``docs/listening.md``."""

from typing import Any

from changewright.ear._words import asked_name, degree_text, heard_name
from changewright.ear.hearing import Ask, BarHearing, Finding, Hearing, Mistake
from changewright.ear.measure import Measure
from changewright.ear.remarks import Remark, remarks
from changewright.ear.take import HeardNote
from changewright.music.document import promise_document
from changewright.music.promise import Promise

__all__ = ["FORMAT", "hearing_document"]

FORMAT = "changewright-hearing/1"


def hearing_document(hearing: Hearing) -> dict[str, Any]:
    """Everything in a hearing, its remarks included, as dicts, lists, numbers and strings.

    Times are seconds rounded to a tenth of a millisecond, onsets in quarters as exact text such
    as ``"9/2"``, pitches as concert names, and beside them the names the player reads.
    """
    return {
        "format": FORMAT,
        "title": hearing.title,
        "instrument": hearing.instrument.id,
        "level": hearing.level,
        "judged": hearing.judged,
        "reason": hearing.reason,
        "tuning_hz": round(hearing.tuning_hz, 2),
        "pulse": None if hearing.pulse is None else hearing.pulse.document(),
        "placement": _placement(hearing),
        "timing": _timing(hearing),
        "counts": {kind: _count(hearing, kind) for kind in _kinds(hearing)},
        "mistakes": [_mistake(m, hearing) for m in hearing.mistakes],
        "bars": [_bar(b, hearing) for b in hearing.bars],
        "intonation": [_leaning(m) for m in hearing.intonation],
        "remarks": _remarks(hearing),
    }


def _placement(hearing: Hearing) -> dict[str, Any]:
    laid = hearing.placement
    return {
        "offset_s": _s(laid.offset_s),
        "latency_s": None if laid.from_count_in is None else _s(laid.from_count_in),
        "first_bar": laid.first_bar,
        "last_bar": laid.last_bar,
        "slips": [{"bar": s.bar, "until": s.until, "beats_ahead": s.beats} for s in laid.slips],
    }


def _timing(hearing: Hearing) -> dict[str, Any]:
    timing = hearing.timing
    return {
        "offset_s": _s(timing.offset_s),
        "spread_s": _s(timing.spread_s),
        "drift_beats": round(timing.drift_beats, 3),
        "in_window": timing.in_window,
        "counted": timing.counted,
    }


def _kinds(hearing: Hearing) -> list[str]:
    return sorted({f.ask.kind for f in hearing.findings})


def _count(hearing: Hearing, kind: str) -> dict[str, int]:
    met, sure = hearing.share(kind)
    asked = sum(f.ask.kind == kind for f in hearing.findings)
    return {"asked": asked, "met": met, "missed": sure - met, "unsure": asked - sure}


def _mistake(mistake: Mistake, hearing: Hearing) -> dict[str, Any]:
    first = mistake.first
    return {
        "bar": mistake.bar,
        "beat": mistake.beat,
        "fault": mistake.fault.value,
        "asked": str(first.ask.pitch) if first.ask.pitch else None,
        "asked_written": asked_name(first, hearing) if first.ask.pitch else None,
        "heard": _heard(first.heard, hearing) if first.heard else None,
        "lateness_s": None if first.lateness_s is None else _s(first.lateness_s),
        "breaks": [f.ask.kind for f in mistake.findings],
    }


def _bar(bar: BarHearing, hearing: Hearing) -> dict[str, Any]:
    return {
        "bar": bar.number,
        "beats_ahead": bar.shift_beats,
        "asked": [_ask(a, hearing) for a in bar.asked],
        "met": [_finding(f, hearing) for f in bar.met],
        "missed": [_finding(f, hearing) for f in bar.missed],
        "unsure": [_finding(f, hearing) for f in bar.unsure],
        "extra": [_heard(n, hearing) for n in bar.extra],
    }


def _ask(ask: Ask, hearing: Hearing) -> dict[str, Any]:
    said: dict[str, Any] = {"kind": ask.kind, "beat": ask.beat, "start": str(ask.start)}
    if ask.pitch is not None:
        degree = degree_text(ask.start, ask.pitch.midi % 12, hearing)
        return said | {"end": str(ask.end), "pitch": str(ask.pitch), "degree": degree}
    return said | _promise(ask.promise)


def _promise(promise: Promise | None) -> dict[str, Any]:
    if promise is None:
        return {}
    return {name: part for name, part in promise_document(promise).items() if name != "kind"}


def _finding(finding: Finding, hearing: Hearing) -> dict[str, Any]:
    return _ask(finding.ask, hearing) | {
        "verdict": finding.verdict.value,
        "fault": finding.fault.value if finding.fault else None,
        "heard": _heard(finding.heard, hearing) if finding.heard else None,
        "lateness_s": None if finding.lateness_s is None else _s(finding.lateness_s),
        "confidence": round(finding.confidence, 3),
    }


def _heard(note: HeardNote, hearing: Hearing) -> dict[str, Any]:
    return {
        "onset_s": _s(note.onset_s),
        "end_s": _s(note.end_s),
        "pitch": round(note.pitch, 3),
        "written": heard_name(note, hearing),
        "cents": round(note.cents, 1),
        "loudness_db": round(note.loudness_db, 1),
        "confidence": round(note.confidence, 3),
    }


def _leaning(measure: Measure) -> dict[str, Any]:
    return {
        "id": measure.id,
        "name": measure.name,
        "detail": measure.detail,
        "cents": round(measure.value, 1),
        "count": measure.count,
    }


def _remarks(hearing: Hearing) -> dict[str, Any]:
    said = remarks(hearing)
    return {
        "questions": list(said.questions),
        "headline": said.headline,
        "strength": _remark(said.strength),
        "correction": _remark(said.correction),
        "suggestion": _remark(said.suggestion),
        "pitch": said.pitch,
        "bars": [{"bar": b.number, "text": b.text, "clear": b.clear} for b in said.bars],
        "caveat": said.caveat,
    }


def _remark(remark: Remark | None) -> dict[str, Any] | None:
    return None if remark is None else {"text": remark.text, "bars": list(remark.bars)}


def _s(seconds: float) -> float:
    return round(seconds, 4)
