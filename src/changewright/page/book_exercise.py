"""One exercise of a book, set for one reader: what stands in its head, its rows, and its notes."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import zip_longest
from typing import Any

from changewright.music.notated import NotatedBar, Notation
from changewright.music.notation import HINTS
from changewright.page.book_layout import Block
from changewright.page.book_style import TEXT_WIDTH_MM, BookStyle, line_count
from changewright.page.language import Language, language
from changewright.page.listening import listening_clauses
from changewright.page.look import printable
from changewright.page.marks import is_compound, swing_svg, tempo_svg
from changewright.page.phrases import aloud_in, instruction_in
from changewright.page.svg import picture_svg
from changewright.page.system import System
from changewright.page.words import describe_bars, feel_words, instrument_words, is_swung

__all__ = ["answer_content", "block_of", "exercise_content", "rows_of"]

Content = dict[str, Any]

_TITLE_MM, _META_MM, _LINE_MM, _NOTE_MM, _AFTER_MM = 6.6, 6.8, 4.8, 4.4, 3.2
_TEXT_PT, _NOTE_PT = 10.5, 9.5
_MOST_ABOUT = 40


def exercise_content(
    notation: Notation,
    systems: Sequence[System],
    style: BookStyle,
    *,
    number: int,
    about: str,
) -> Content:
    """An exercise as content of a page; ``about`` names its chart."""
    words, sheet = language(style.language), notation.sheet
    instruction = printable(instruction_in(sheet.instruction, style.language))
    notes = _notes(notation, style, words)
    content = {
        **_title(notation, words, number, about),
        "keys": printable(_keys(notation, words)),
        "tempo": _tempo(notation, words),
        "feel": printable(words.feel(sheet.feel, feel_words(sheet.feel))),
        "swing": swing_svg() if is_swung(sheet.feel, notation.meter) else None,
        "instruction": instruction,
        "notes": notes,
        "label": sheet.recipe.label,
        "rows": rows_of(systems, style),
    }
    lines = line_count(instruction, _TEXT_PT * style.scale)
    meta = 2 * _META_MM if style.is_large else _META_MM
    content["lines"] = lines
    content["head_mm"] = round(
        style.scale * (_TITLE_MM + meta + _AFTER_MM) + style.line_scale * lines * _LINE_MM, 2
    )
    content["tail_mm"] = _notes_mm(notes, style)
    return content


def answer_content(
    notation: Notation, systems: Sequence[System], style: BookStyle, *, number: int, about: str
) -> Content:
    """The same exercise filled in, for the back of the book: a short head, and the rows."""
    words = language(style.language)
    return {
        **_title(notation, words, number, about),
        "keys": printable(_keys(notation, words)),
        "notes": [],
        "label": notation.sheet.recipe.label,
        "rows": rows_of(systems, style),
        "head_mm": style.scale * (_TITLE_MM + _LINE_MM + _AFTER_MM),
        "tail_mm": 0.0,
    }


def rows_of(systems: Sequence[System], style: BookStyle) -> list[Content]:
    """Systems as rows: the drawing, its size, and its changes in words."""
    unit = TEXT_WIDTH_MM / style.staff_width
    return [
        {
            "svg": picture_svg(s.picture),
            "width_mm": round(s.width * unit, 2),
            "height_mm": round(s.height * unit, 2),
            "alt": aloud_in(describe_bars(s.bars), style.language),
            "first": s.bars[0].bar.number,
            "last": s.bars[-1].bar.number,
            "turns": _rests_at_the_end(s.bars),
        }
        for s in systems
    ]


def block_of(contents: Sequence[Content]) -> Block:
    """One exercise as all its readers see it: everything as high as the highest of them."""
    heights = zip_longest(
        *([row["height_mm"] for row in one["rows"]] for one in contents), fillvalue=0.0
    )
    longest = max(contents, key=lambda one: len(one["rows"]))
    return Block(
        max(one["head_mm"] for one in contents),
        tuple(map(max, heights)),
        max(one["tail_mm"] for one in contents),
        tuple(row["turns"] for row in longest["rows"]),
    )


def _rests_at_the_end(bars: Sequence[NotatedBar]) -> bool:
    """True where the last beat of the row is a rest: time to turn a page."""
    mark = bars[-1].marks[-1]
    return mark.is_rest and mark.duration >= 1


def _title(notation: Notation, words: Language, number: int, about: str) -> Content:
    sheet = notation.sheet
    title = printable(words.family(sheet.recipe.family, sheet.title))
    return {"number": number, "title": title, "about": _short(printable(about))}


def _short(text: str) -> str:
    return text if len(text) <= _MOST_ABOUT else text[: _MOST_ABOUT - 1].rstrip() + "…"


def _keys(notation: Notation, words: Language) -> str:
    """Which key sounds and which is read."""
    concert = words.word("concert", key=words.key(notation.sheet.key))
    player = instrument_words(notation.sheet.instrument)
    reader = words.reader(notation.sheet.instrument.id, player)
    if notation.up.fifths == 0:
        return f"{concert} · {reader}"
    return f"{concert} · {words.word('written', key=words.key(notation.key))} · {reader}"


def _tempo(notation: Notation, words: Language) -> Content:
    bpm = Fraction(notation.sheet.tempo_bpm)
    dotted = is_compound(notation.meter)
    return {
        "svg": tempo_svg(notation.meter),
        "alt": words.lesson("dotted_quarter" if dotted else "quarter"),
        "text": f"= {round(bpm * 2 / 3 if dotted else bpm)}",
    }


def _notes(notation: Notation, style: BookStyle, words: Language) -> list[Content]:
    """The lines under an exercise."""
    lines: list[Content] = []
    heard = listening_clauses(notation.sheet, style.language) if style.listen else []
    if heard:
        said = "; ".join(f"{what} ({where})" if where else what for what, where in heard)
        lines.append({"head": words.word("listen"), "text": printable(said) + "."})
    used = {mark.hint for bar in notation.bars for mark in bar.marks}
    letters = [words.word(role.name.lower()) for role, hint in HINTS.items() if hint in used]
    if letters:
        lines.append({"head": words.word("letters"), "text": "; ".join(letters) + "."})
    for line in lines:
        whole = f"{line['head']} {line['text']}"
        line["lines"] = line_count(whole, _NOTE_PT * style.scale)
    return lines


def _notes_mm(notes: Sequence[Content], style: BookStyle) -> float:
    if not notes:
        return 0.0
    lines: int = sum(n["lines"] for n in notes)
    return round(style.line_scale * (lines * _NOTE_MM + 1.2), 2)
