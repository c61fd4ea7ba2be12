"""A lesson as a PDF, and one exercise as drawings or a picture."""

import json
from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from typing import Literal

from changewright.errors import UnknownName
from changewright.music.notated import Notation
from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from changewright.music.systems import BARS_A_SYSTEM
from changewright.music.written import Hand
from changewright.page._typst import typeset_pdf, typeset_png
from changewright.page._verovio import STAFF_WIDTH
from changewright.page.engraving import engrave_notation
from changewright.page.listening import listening_clauses
from changewright.page.look import Look, LookName, look_of, printable
from changewright.page.marks import is_compound, swing_svg, tempo_svg
from changewright.page.reading import ScaleLine, reading_rows, scale_lines
from changewright.page.svg import picture_svg
from changewright.page.symbol import name_text
from changewright.page.system import System
from changewright.page.words import REMINDER, describe_bars, feel_words, instrument_words, is_swung
from changewright.reading.model import Reading
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.transposition import transpose_key_for, written_shift

__all__ = ["PAPERS", "Paper", "lesson_pdf", "sheet_png", "sheet_svg"]

Paper = Literal["a4", "letter"]
PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
"""Paper by name; both carry the same systems, 180 mm wide with a staff of 7 mm."""


def lesson_pdf(
    sheets: Sequence[Sheet],
    *,
    title: str,
    for_whom: str = "",
    paper: Paper = "a4",
    look: LookName = "plain",
    answers: bool = False,
    bars_a_system: int = BARS_A_SYSTEM,
    dated: date | None = None,
    reading: Reading | None = None,
) -> bytes:
    """Print a lesson: head, exercises in order at written pitch, and the labels at the foot.

    With a ``reading``, the chorus as read stands first: numerals, keys, arrows of resolution and
    a table of scales, at the pitch that the first exercise's player reads.

    ``answers`` fills the blanks with the model answer. The file is tagged (PDF/UA-1); with
    ``dated`` it carries that date and is fit for archives too (PDF/A-2a, which asks for one).
    The same arguments give the same bytes.
    Raises :class:`UnknownName` for a paper or look that we don't have, ``ValueError`` for a
    lesson without exercises.
    """
    content = _content(sheets, title, for_whom, paper, look, answers, bars_a_system)
    content["reading"] = _reading(reading, sheets[0].instrument, look_of(look)) if reading else None
    content["date"] = dated and [dated.year, dated.month, dated.day]
    inputs = {"lesson": json.dumps(content, ensure_ascii=False)}
    return typeset_pdf("lesson.typ", inputs, archival=dated is not None)


def sheet_svg(
    sheet: Sheet,
    *,
    look: LookName = "plain",
    answers: bool = False,
    bars_a_system: int = BARS_A_SYSTEM,
    embed_fonts: bool = True,
) -> tuple[str, ...]:
    """Draw one exercise, an SVG a system, for a screen, a handout or a slide.

    With ``embed_fonts`` each drawing carries its text faces; without, the page that shows
    it must supply them.
    """
    chosen = look_of(look)
    systems = engrave_notation(notate(sheet, answers=answers), chosen, bars_a_system=bars_a_system)
    return tuple(
        picture_svg(s.picture, title=describe_bars(s.bars), embed=embed_fonts) for s in systems
    )


def sheet_png(
    sheet: Sheet, *, look: LookName = "plain", answers: bool = False, dots_an_inch: float = 200
) -> bytes:
    """Draw one exercise as a picture, cropped to its music."""
    chosen = look_of(look)
    notation = notate(sheet, answers=answers)
    content = {
        "look": look,
        "exercise": _exercise(notation, chosen, 1, BARS_A_SYSTEM),
    }
    inputs = {"lesson": json.dumps(content, ensure_ascii=False)}
    return typeset_png("exercise.typ", inputs, dots_an_inch)[0]


def _content(
    sheets: Sequence[Sheet],
    title: str,
    for_whom: str,
    paper: Paper,
    look: LookName,
    answers: bool,
    bars_a_system: int,
) -> dict[str, object]:
    if not sheets:
        raise ValueError("a lesson has at least one exercise")
    if paper not in PAPERS:
        raise UnknownName("paper", paper, PAPERS)
    chosen = look_of(look)
    head = printable(title) or "Lesson"
    count = "one exercise" if len(sheets) == 1 else f"{len(sheets)} exercises"
    return {
        "title": head,
        "short-title": head if len(head) <= 60 else head[:59] + "…",
        "for-whom": printable(for_whom),
        "description": printable(f"{count} over changes, written for {for_whom or 'practice'}"),
        "language": "en",
        "paper": PAPERS[paper],
        "look": look,
        "reminder": REMINDER,
        "page-word": "Page",
        "exercises": [
            _exercise(notate(sheet, answers=answers), chosen, number, bars_a_system)
            for number, sheet in enumerate(sheets, start=1)
        ],
    }


def _reading(reading: Reading, player: Instrument, look: Look) -> dict[str, object]:
    key = transpose_key_for(player, reading.key)
    hand = Hand(written_shift(player, reading.key), key)
    rows = reading_rows(reading, hand, look)
    return {
        "title": printable(f"The changes: {reading.title}"),
        "keys": f"Concert {_key_text(reading.key)}, for {instrument_words(player)}",
        "rows": [
            {"svg": picture_svg(picture), "share": 1, "alt": words} for picture, words in rows
        ],
        "scales": _scale_table(scale_lines(reading, hand)),
    }


def _scale_table(lines: Sequence[ScaleLine]) -> list[list[str]]:
    """Head and lines of the table of scales; the reasons only where there are any."""
    rows = [["Chord", "Does", "Chord tones", "First scale", "Its notes", "Because"]]
    rows += [[x.symbol, x.numeral, x.tones, x.scale, x.scale_tones, x.because] for x in lines]
    return rows if any(row[-1] for row in rows[1:]) else [row[:-1] for row in rows]


def _exercise(notation: Notation, look: Look, number: int, bars_a_system: int) -> dict[str, object]:
    sheet = notation.sheet
    systems = engrave_notation(notation, look, bars_a_system=bars_a_system)
    swings = is_swung(sheet.feel, notation.meter)
    return {
        "title": printable(f"{number}. {sheet.title}"),
        "instruction": printable(sheet.instruction),
        "keys": _keys(notation),
        "tempo": _tempo(notation),
        "feel": printable(feel_words(sheet.feel)),
        "swing": (
            {"svg": swing_svg(), "alt": "two eighths are played long, short"} if swings else None
        ),
        "label": sheet.recipe.label,
        "notes": _notes(sheet),
        "systems": [_system(s) for s in systems],
    }


def _notes(sheet: Sheet) -> list[dict[str, object]]:
    """The lines under an exercise: a head, and clauses with the bars they are about."""
    heard = listening_clauses(sheet)
    clauses = [{"what": printable(what), "where": printable(where)} for what, where in heard]
    return [{"head": "Listen for:", "clauses": clauses}] if clauses else []


def _system(system: System) -> dict[str, object]:
    return {
        "svg": picture_svg(system.picture),
        "share": system.width / STAFF_WIDTH,
        "height": system.height / STAFF_WIDTH,
        "alt": describe_bars(system.bars),
    }


def _keys(notation: Notation) -> str:
    """Which key sounds and which is read, as the room speaks of them."""
    sheet = notation.sheet
    concert = f"Concert {_key_text(sheet.key)}"
    player = instrument_words(sheet.instrument)
    if notation.up.fifths == 0:
        return f"{concert} · {player}"
    return f"{concert} · written {_key_text(notation.key)} for {player}"


def _key_text(key: Key) -> str:
    return f"{name_text(key.tonic)} {key.mode}"


def _tempo(notation: Notation) -> dict[str, str]:
    bpm: Fraction = Fraction(notation.sheet.tempo_bpm)
    dotted = is_compound(notation.meter)
    if dotted:
        bpm = bpm * 2 / 3
    return {
        "svg": tempo_svg(notation.meter),
        "alt": "dotted quarter" if dotted else "quarter",
        "text": f"= {round(bpm)}",
    }
