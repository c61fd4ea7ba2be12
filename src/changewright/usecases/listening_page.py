"""Listening notes as a file: what the ear heard, joined with what the page can draw."""

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from changewright.ear.audio import Audio
from changewright.ear.clips import clips
from changewright.ear.intonation import is_intonation
from changewright.ear.measure import FEW, Measure
from changewright.ear.remarks import CAVEAT, MY_EARS, Remarks, remarks
from changewright.ear.solo import Band, SoloHearing
from changewright.ear.take import HeardNote, Take
from changewright.ear.trace import trace
from changewright.ear.writing import shown, written_down
from changewright.errors import InputError
from changewright.music.bar import Bar, Quarters
from changewright.music.clock import Clock
from changewright.music.line import Line
from changewright.music.sheet import Sheet
from changewright.page.heard import BarNote, HeardPage, MeasureRow
from changewright.page.heard_print import heard_pdf
from changewright.page.heard_screen import heard_html
from changewright.page.words import instrument_words
from changewright.usecases.folder import whole_file
from changewright.usecases.hear import Listened, ListenedSolo

__all__ = ["check_page", "exercise_page", "solo_page", "write_page"]

_KINDS = (".pdf", ".html")
_SIGNS = {"b": "♭", "#": "♯"}
_ON_A_NAME = re.compile(r"\b([A-G])([b#])(?![a-ln-z])")
_ON_A_DEGREE = re.compile(r"(?<![\w♭♯])([b#])(?=\d)")
_MOST_CHORUSES = 12
_LEAD_S = 0.08  # a bar's sound starts a little before its line: people play early


def check_page(target: Path) -> None:
    """Refuse a page that is neither PDF nor HTML before anything is heard."""
    if target.suffix.lower() not in _KINDS:
        raise InputError(
            f"a page is written as PDF or HTML, not {target.suffix or 'without an ending'}",
            remedy="Give --page a name that ends in .pdf or .html.",
        )


def write_page(page: HeardPage, target: Path) -> None:
    """Write the page whole or not at all; the name's ending says whether PDF or HTML."""
    check_page(target)
    if target.suffix.lower() == ".pdf":
        whole_file(target, heard_pdf(page))
    else:
        whole_file(target, heard_html(page).encode("utf-8"))


def exercise_page(listened: Listened) -> HeardPage:
    """A take of an exercise: the notes on it, and where it can be heard, its sound by bar. Where
    nothing fair can be said nothing is shown as heard either."""
    hearing, sheet, clock = listened.hearing, listened.sheet, listened.clock
    said = remarks(hearing)
    known = hearing.judged and (hearing.pulse is None or hearing.pulse.sure)
    offset = hearing.placement.offset_s
    line = written_down(listened.take, sheet, clock, offset_s=offset, hearing=hearing)
    return HeardPage(
        title=f"Listening notes: {sheet.title}",
        for_whom=f"For {instrument_words(sheet.instrument)}. {sheet.instruction}".strip(),
        questions=said.questions,
        headline=_signs(said.headline),
        said=_said(said),
        bars=_bars(listened, said) if known else (),
        caveat=said.caveat,
        heard=sheet.with_line(line, ()) if known else None,
        exercise=sheet,
        strokes=_strokes(listened.take, shown(listened.take, hearing), clock, offset),
    )


def solo_page(listened: ListenedSolo) -> HeardPage:
    """An open solo: every share beside chance and the record, no total; the take on its choruses
    where its place is known."""
    hearing = listened.hearing
    known = hearing.notes > 0 and (hearing.pulse is None or hearing.pulse.sure)
    sheet = _choruses(listened)
    offset = listened.latency_s
    line = written_down(listened.take, sheet, listened.clock, offset_s=offset)
    sounds = _clips(sheet, listened.audio, listened.clock, offset)
    return HeardPage(
        title=f"An open solo: {hearing.title}",
        for_whom=f"For {instrument_words(sheet.instrument)}.",
        questions=MY_EARS,
        headline=_signs(hearing.reason),
        said=tuple((head, _signs(text)) for head, text in hearing.said())
        + ((("Pitch", _signs(hearing.pitch)),) if hearing.pitch else ()),
        bars=tuple(
            BarNote(bar.number, "", sound) for bar, sound in zip(sheet.bars, sounds, strict=True)
        )
        if known
        else (),
        caveat=CAVEAT,
        heard=sheet.with_line(line, ()) if known else None,
        strokes=_strokes(listened.take, shown(listened.take), listened.clock, offset),
        measures=tuple(_measure_row(m, hearing) for m in hearing.measures if not is_intonation(m)),
    )


def _choruses(listened: ListenedSolo) -> Sheet:
    """The form as often as it was played over, its bars counted on; empty of notes."""
    sheet = listened.sheet
    last = max((n.onset_s for n in listened.take.notes), default=0.0)
    played = float(listened.clock.to_quarters(last - listened.latency_s))
    times = min(_MOST_CHORUSES, max(1, -int(-played // float(sheet.length))))
    bars = tuple(
        _later(bar, k * sheet.length, k * len(sheet.bars))
        for k in range(times)
        for bar in sheet.bars
    )
    return replace(sheet, bars=bars, line=Line((), times * sheet.length), promises=())


def _later(bar: Bar, by: Quarters, count: int) -> Bar:
    changes = tuple(replace(c, onset=c.onset + by) for c in bar.changes)
    return replace(bar, number=bar.number + count, start=bar.start + by, changes=changes)


def _measure_row(measure: Measure, hearing: SoloHearing) -> MeasureRow:
    """PITFALL: what small counts say beside the record is chance; there it is left out."""

    band = hearing.band(measure)
    record = measure.record or ((measure.middle,) if measure.middle is not None else ())
    compared = hearing.compared and measure.count >= FEW
    return MeasureRow(
        name=_signs(measure.name + (f": {measure.detail}" if measure.detail else "")),
        value=measure.said(measure.value).removesuffix(" of 100"),
        chance="" if measure.chance is None else measure.number(measure.chance),
        lift="" if measure.lift is None else f"{100 * measure.lift:.0f}",
        record=" · ".join(measure.number(v) for v in record) if compared else "",
        counted=str(measure.count),
        word="" if band is Band.SHOWN else band.value,
    )


def _said(said: Remarks) -> tuple[tuple[str, str], ...]:
    heads = ("What worked", "To work on", "Next time")
    parts = (said.strength, said.correction, said.suggestion)
    told = tuple((h, _signs(p.text)) for h, p in zip(heads, parts, strict=True) if p is not None)
    return told + ((("Pitch", _signs(said.pitch)),) if said.pitch else ())


def _bars(listened: Listened, said: Remarks) -> tuple[BarNote, ...]:
    told = {bar.number: bar.text for bar in said.bars}
    offset = listened.hearing.placement.offset_s
    sounds = _clips(listened.sheet, listened.audio, listened.clock, offset)
    return tuple(
        BarNote(bar.number, _sentence(told.get(bar.number, "")), sound)
        for bar, sound in zip(listened.sheet.bars, sounds, strict=True)
    )


def _sentence(text: str) -> str:
    return _signs(text[:1].upper() + text[1:])


def _signs(text: str) -> str:
    """True accidentals on paper: E flat's sign for Eb, and before a degree."""
    named = _ON_A_NAME.sub(lambda m: m[1] + _SIGNS[m[2]], text)
    return _ON_A_DEGREE.sub(lambda m: _SIGNS[m[1]], named)


def _clips(sheet: Sheet, audio: Audio | None, clock: Clock, offset_s: float) -> tuple[bytes, ...]:
    """The sound of each bar; ``b""`` where there is none."""
    if audio is None:
        return (b"",) * len(sheet.bars)
    at = clock.to_seconds
    spans = [(at(b.start) + offset_s - _LEAD_S, at(b.end) + offset_s + _LEAD_S) for b in sheet.bars]
    return clips(audio, spans)


def _strokes(
    take: Take, notes: Iterable[HeardNote], clock: Clock, offset_s: float
) -> tuple[tuple[tuple[float, float], ...], ...]:
    return tuple(
        tuple((clock.to_quarters(at - offset_s), pitch) for at, pitch in stroke)
        for stroke in trace(take, notes)
    )
