"""A lesson as a PDF, and one exercise as drawings or a picture."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from typing import Literal, get_args

from changewright.errors import UnknownName
from changewright.music.bar import Meter, Quarters
from changewright.music.notated import Notation
from changewright.music.notation import HINTS, notate
from changewright.music.sheet import Sheet
from changewright.music.stacked import notate_chords
from changewright.music.systems import BARS_A_SYSTEM
from changewright.page._typst import typeset_pdf, typeset_png
from changewright.page._verovio import STAFF_WIDTH
from changewright.page.code import code_svg, exercise_link
from changewright.page.engraving import engrave_notation
from changewright.page.language import Language, language
from changewright.page.listening import listening_clauses
from changewright.page.look import Look, LookName, look_of, printable
from changewright.page.marks import is_compound, swing_svg, tempo_share, tempo_svg
from changewright.page.phrases import aloud_in, instruction_in
from changewright.page.practice import practice_steps
from changewright.page.reading import ScaleLine, reading_rows, scale_lines
from changewright.page.svg import picture_svg, stacked_svg
from changewright.page.system import System
from changewright.page.words import describe_bars, feel_words, instrument_words, is_swung
from changewright.page.written_reading import hand_for
from changewright.reading.model import Reading
from changewright.theory.instrument import Instrument
from changewright.theory.pitch import Pitch
from changewright.theory.symbol_writing import Style

__all__ = [
    "PAPERS",
    "Paper",
    "Print",
    "lesson_pdf",
    "part_pdf",
    "sheet_drawing",
    "sheet_png",
    "sheet_svg",
]

Paper = Literal["a4", "letter"]
_GAP = 360.0  # drawing units between the systems of a drawing: two staff spaces
_LARGE_WIDTH, _LARGE_BARS = 12950, 2  # a staff of ten millimetres across the same paper
PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
"""Paper by name; both carry the same systems, 180 mm wide with a staff of 7 mm."""


Print = Literal["usual", "large"]
"""Large print has a staff of about ten millimetres, larger letters, and two bars a system."""


@dataclass(frozen=True, slots=True)
class _Setting:
    """How exercises are set: look, bars a system, drawing units across the paper, language."""

    look: Look
    bars_a_system: int
    width: int = STAFF_WIDTH
    words: Language = field(default_factory=lambda: language("en"))


def lesson_pdf(
    sheets: Sequence[Sheet],
    *,
    title: str,
    for_whom: str = "",
    paper: Paper = "a4",
    look: LookName = "plain",
    size: Print = "usual",
    answers: bool = False,
    answer_key: bool = False,
    bars_a_system: int = BARS_A_SYSTEM,
    dated: date | None = None,
    reading: Reading | None = None,
    written: Reading | None = None,
    chords: Style = "abbreviated",
    practice: bool = True,
    studio: str | None = None,
    in_language: str = "en",
) -> bytes:
    """Print a lesson: head, exercises in order at written pitch, and the labels at the foot.

    With a ``reading``, the chorus as read stands first: numerals, keys, arrows of resolution and
    a table of scales, at the pitch that the first exercise's player reads. ``written`` is the same
    chorus read at that pitch (:func:`~changewright.page.written_reading.written_reading`); only
    with it has a transposing player's table its reasons. ``answers`` fills the blanks with the
    model answer; ``answer_key`` leaves them open and prints the answers at the back. ``chords``
    is the style of chord symbols. ``practice`` prints under each exercise how to practise it,
    with the tempos; with ``studio``, the address of a studio, a code to scan opens the same
    exercise there. ``in_language`` is that of all words but the title, a teacher's own
    instructions, and the reasons of scales, which come in English. The file is tagged
    (PDF/UA-1); with ``dated`` it carries that date and is fit for archives too (PDF/A-2a, which
    asks for one). The same arguments give the same bytes.

    Raises :class:`UnknownName` for a paper, look, size or language that we don't have,
    :class:`InputError` for a ``studio`` that is no address, ``ValueError`` for a lesson without
    exercises.
    """
    _check(sheets, paper, size)
    setting = replace(_setting(look, size, bars_a_system, chords), words=language(in_language))
    content: dict[str, object] = {
        **_head(title, for_whom, len(sheets), setting.words),
        "paper": PAPERS[paper],
        "look": look,
        "large": size == "large",
        "date": dated and [dated.year, dated.month, dated.day],
        "reading": (_reading(reading, written, sheets[0], setting) if reading else None),
        "exercises": [
            {**exercise, "practice": _practice(sheet, studio, setting) if practice else None}
            for sheet, exercise in zip(sheets, _exercises(sheets, setting, answers), strict=True)
        ],
        "answers": _answer_key(sheets, setting) if answer_key else [],
    }
    inputs = {"lesson": json.dumps(content, ensure_ascii=False)}
    return typeset_pdf("lesson.typ", inputs, archival=dated is not None)


def part_pdf(
    sheet: Sheet,
    name: str,
    *,
    title: str,
    above: Mapping[Quarters, Sequence[Pitch]] | None = None,
    paper: Paper = "a4",
    look: LookName = "plain",
    chords: Style = "abbreviated",
) -> bytes:
    """Print one player's part of a band under its ``name``, to be read through: no answers, no
    steps of practice.

    ``above`` makes chords of the notes at some onsets, as :func:`notate_chords` does. The same
    arguments give the same bytes. Raises :class:`UnknownName` for a paper that we don't have.
    """
    _check([sheet], paper, "usual")
    setting = _setting(look, "usual", BARS_A_SYSTEM, chords)
    notation = notate_chords(sheet, above) if above else notate(sheet, answers=True)
    part = {**_exercise(notation, 1, setting), "title": printable(name), "notes": []}
    content: dict[str, object] = {
        **_head(title, "", 1, setting.words),
        "description": printable(f"{title}: {name}, a part to read"),
        "paper": PAPERS[paper],
        "look": look,
        "large": False,
        "date": None,
        "reading": None,
        "exercises": [{**part, "practice": None}],
        "answers": [],
    }
    return typeset_pdf("lesson.typ", {"lesson": json.dumps(content, ensure_ascii=False)})


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
    notation, chosen = notate(sheet, answers=answers), look_of(look)
    systems = engrave_notation(notation, chosen, bars_a_system=bars_a_system)
    return tuple(
        picture_svg(s.picture, title=describe_bars(s.bars), embed=embed_fonts) for s in systems
    )


def sheet_drawing(
    sheet: Sheet,
    *,
    look: LookName = "plain",
    chords: Style = "abbreviated",
    answers: bool = False,
) -> str:
    """Draw one exercise as a single SVG with its fonts inside, for a handout or a slide."""
    notation, setting = (
        notate(sheet, answers=answers),
        _setting(look, "usual", BARS_A_SYSTEM, chords),
    )
    systems = engrave_notation(notation, setting.look)
    words = f"{sheet.title}. {' '.join(describe_bars(s.bars) for s in systems)}"
    return stacked_svg([s.picture for s in systems], title=words, gap=_GAP)


def sheet_png(
    sheet: Sheet,
    *,
    look: LookName = "plain",
    chords: Style = "abbreviated",
    answers: bool = False,
    dots_an_inch: float = 200,
) -> bytes:
    """Draw one exercise as a picture, cropped to its music."""
    notation = notate(sheet, answers=answers)
    setting = _setting(look, "usual", BARS_A_SYSTEM, chords)
    content = {"look": look, "exercise": _exercise(notation, 1, setting)}
    inputs = {"lesson": json.dumps(content, ensure_ascii=False)}
    return typeset_png("exercise.typ", inputs, dots_an_inch)[0]


def _check(sheets: Sequence[Sheet], paper: str, size: str) -> None:
    if not sheets:
        raise ValueError("a lesson has at least one exercise")
    if paper not in PAPERS:
        raise UnknownName("paper", paper, PAPERS)
    if size not in get_args(Print):
        raise UnknownName("print size", size, get_args(Print))


def _setting(
    look: LookName, size: Print, bars_a_system: int, chords: Style = "abbreviated"
) -> _Setting:
    if size == "usual":
        return _Setting(look_of(look, chords), bars_a_system)
    return _Setting(look_of(look, chords), min(bars_a_system, _LARGE_BARS), _LARGE_WIDTH)


def _head(title: str, for_whom: str, count: int, words: Language) -> dict[str, object]:
    head = printable(title) or words.lesson("lesson")
    reader = for_whom or words.lesson("practice")
    about = words.lesson("one" if count == 1 else "many", count=count, reader=reader)
    return {
        "title": head,
        "short-title": head if len(head) <= 60 else head[:59] + "…",
        "for-whom": printable(for_whom),
        "description": printable(about),
        "language": words.code,
        "reminder": words.lesson("reminder"),
        "page-word": words.lesson("page"),
        "answer-word": words.word("answers"),
    }


def _exercises(
    sheets: Sequence[Sheet], setting: _Setting, answers: bool
) -> list[dict[str, object]]:
    return [
        _exercise(notate(sheet, answers=answers), number, setting)
        for number, sheet in enumerate(sheets, start=1)
    ]


def _answer_key(sheets: Sequence[Sheet], setting: _Setting) -> list[dict[str, object]]:
    """The exercises that leave something open, filled in, under their own numbers."""
    return [
        {**_exercise(notate(sheet, answers=True), number, setting), "instruction": "", "notes": []}
        for number, sheet in enumerate(sheets, start=1)
        if any(note.blank for note in sheet.line.notes)
    ]


def _reading(
    reading: Reading, written: Reading | None, sheet: Sheet, setting: _Setting
) -> dict[str, object]:
    player, words = sheet.instrument, setting.words
    hand = hand_for(player, reading, sheet.spelling)
    rows = reading_rows(reading, hand, setting.look, width=setting.width, in_language=words.code)
    return {
        "title": printable(words.lesson("changes", title=reading.title)),
        "keys": f"{words.word('concert', key=words.key(reading.key))}, "
        + words.word("for_reader", reader=_reader(player, words)),
        "rows": [
            {"svg": picture_svg(picture), "share": 1, "alt": aloud_in(told, words.code)}
            for picture, told in rows
        ],
        "scales": _scale_table(
            scale_lines(reading, hand, written, setting.look.chords, words.code), words
        ),
    }


def _scale_table(lines: Sequence[ScaleLine], words: Language) -> list[list[str]]:
    """Head and lines of the table of scales; the reasons only where there are any."""
    heads = ("chord", "does", "tones", "scale", "scale_tones", "because")
    rows = [[words.lesson(head) for head in heads]]
    rows += [[x.symbol, x.numeral, x.tones, x.scale, x.scale_tones, x.because] for x in lines]
    return rows if any(row[-1] for row in rows[1:]) else [row[:-1] for row in rows]


def _exercise(notation: Notation, number: int, setting: _Setting) -> dict[str, object]:
    sheet, words = notation.sheet, setting.words
    systems = engrave_notation(
        notation, setting.look, bars_a_system=setting.bars_a_system, width=setting.width
    )
    swings = is_swung(sheet.feel, notation.meter)
    return {
        "title": printable(f"{number}. {words.family(sheet.recipe.family, sheet.title)}"),
        "instruction": printable(instruction_in(sheet.instruction, words.code)),
        "keys": _keys(notation, words),
        "tempo": _tempo(sheet.tempo_bpm, notation.meter, words),
        "feel": printable(words.feel(sheet.feel, feel_words(sheet.feel))),
        "swing": {"svg": swing_svg(), "alt": words.lesson("long_short")} if swings else None,
        "label": sheet.recipe.label,
        "notes": _notes(notation, words),
        "systems": [_system(s, setting.width, words) for s in systems],
    }


def _notes(notation: Notation, words: Language) -> list[dict[str, object]]:
    """The lines under an exercise: a head, and clauses with the bars they are about."""
    heard = listening_clauses(notation.sheet, words.code)
    clauses = [{"what": printable(what), "where": printable(where)} for what, where in heard]
    lines: list[dict[str, object]] = (
        [{"head": words.word("listen"), "clauses": clauses}] if heard else []
    )
    used = {mark.hint for bar in notation.bars for mark in bar.marks}
    letters = [words.word(role.name.lower()) for role, hint in HINTS.items() if hint in used]
    if letters:
        clauses = [{"what": x, "where": ""} for x in letters]
        lines.append({"head": words.word("letters"), "clauses": clauses})
    return lines


def _system(system: System, full: int, words: Language) -> dict[str, object]:
    return {
        "svg": picture_svg(system.picture),
        "share": system.width / full,
        "height": system.height / full,
        "alt": aloud_in(describe_bars(system.bars), words.code),
    }


def _keys(notation: Notation, words: Language) -> str:
    """Which key sounds and which is read, as the room speaks of them."""
    sheet = notation.sheet
    concert = words.word("concert", key=words.key(sheet.key))
    reader = _reader(sheet.instrument, words)
    if notation.up.fifths == 0:
        return f"{concert} · {reader}"
    return f"{concert} · {words.lesson('written', key=words.key(notation.key), reader=reader)}"


def _reader(player: Instrument, words: Language) -> str:
    return words.reader(player.id, instrument_words(player))


def _tempo(quarters_bpm: int, meter: Meter, words: Language) -> dict[str, object]:
    dotted = is_compound(meter)
    bpm = Fraction(quarters_bpm) * (Fraction(2, 3) if dotted else 1)
    return {
        "svg": tempo_svg(meter),
        "share": tempo_share(meter),
        "alt": words.lesson("dotted_quarter" if dotted else "quarter"),
        "text": f"= {round(bpm)}",
    }


def _practice(sheet: Sheet, studio: str | None, setting: _Setting) -> dict[str, object]:
    """The box under an exercise: steps with their tempos, and the code to scan."""
    meter, words = sheet.bars[-1].meter, setting.words
    steps = [
        {
            "words": printable(step.words),
            "tempo": None if step.bpm is None else _tempo(step.bpm, meter, words),
        }
        for step in practice_steps(sheet, words.code)
    ]
    code = None if studio is None else _code(sheet, studio, words)
    return {"head": words.practice("head"), "steps": steps, "code": code}


def _code(sheet: Sheet, studio: str, words: Language) -> dict[str, str]:
    link = exercise_link(studio, sheet.recipe.label)
    return {
        "svg": code_svg(link),
        "url": link,
        "words": words.lesson("studio"),
        "alt": words.lesson("code", link=link),
    }
