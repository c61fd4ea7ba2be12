"""Listening notes as a file: what the ear heard, joined with what the page can draw."""

import re
from pathlib import Path

from changewright.ear.clips import clips
from changewright.ear.remarks import Remarks, remarks
from changewright.ear.trace import trace
from changewright.ear.writing import shown, written_down
from changewright.errors import InputError
from changewright.music.clock import Clock
from changewright.page.heard import BarNote, HeardPage
from changewright.page.heard_print import heard_pdf
from changewright.page.heard_screen import heard_html
from changewright.page.words import instrument_words
from changewright.usecases.folder import whole_file
from changewright.usecases.hear import Listened

__all__ = ["check_page", "exercise_page", "write_page"]

_KINDS = (".pdf", ".html")
_SIGNS = {"b": "♭", "#": "♯"}
_ON_A_NAME = re.compile(r"\b([A-G])([b#])(?![a-ln-z])")
_ON_A_DEGREE = re.compile(r"(?<![\w♭♯])([b#])(?=\d)")
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
    """A take of an exercise: the notes on it, and where it can be heard, its sound by bar."""
    hearing, sheet, clock = listened.hearing, listened.sheet, listened.clock
    said = remarks(hearing)
    known = hearing.pulse is None or hearing.pulse.sure
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
        strokes=_strokes(listened, clock, offset),
    )


def _said(said: Remarks) -> tuple[tuple[str, str], ...]:
    heads = ("What worked", "To work on", "Next time")
    parts = (said.strength, said.correction, said.suggestion)
    return tuple((h, _signs(p.text)) for h, p in zip(heads, parts, strict=True) if p is not None)


def _bars(listened: Listened, said: Remarks) -> tuple[BarNote, ...]:
    told = {bar.number: bar.text for bar in said.bars}
    sounds = _sounds(listened)
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


def _sounds(listened: Listened) -> tuple[bytes, ...]:
    bars, audio = listened.sheet.bars, listened.audio
    if audio is None:
        return (b"",) * len(bars)
    at, offset = listened.clock.to_seconds, listened.hearing.placement.offset_s
    spans = [(at(b.start) + offset - _LEAD_S, at(b.end) + offset + _LEAD_S) for b in bars]
    return clips(audio, spans)


def _strokes(
    listened: Listened, clock: Clock, offset_s: float
) -> tuple[tuple[tuple[float, float], ...], ...]:
    return tuple(
        tuple((clock.to_quarters(at - offset_s), pitch) for at, pitch in stroke)
        for stroke in trace(listened.take, shown(listened.take, listened.hearing))
    )
