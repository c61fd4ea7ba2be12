"""What stands before and after the exercises: cover, cautions, rights, contents and indexes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from changewright.page.book_style import TEXT_WIDTH_MM, BookStyle, line_count
from changewright.page.language import Language, language
from changewright.page.look import look_of, printable

__all__ = [
    "Line",
    "before_items",
    "chapter_items",
    "chapter_mm",
    "cover_items",
    "list_pages",
    "rights_items",
]

Content = dict[str, Any]

_HEADING_MM, _SUB_MM = 11.0, 6.0
_ENTRY_MM, _ENTRY_PT = 4.9, 9.5
_GUTTER_MM, _NUMBER_MM = 8.0, 11.0


@dataclass(frozen=True, slots=True)
class Line:
    """A line of contents or of an index; a ``strong`` one heads those after it."""

    text: str
    page: int | None = None
    strong: bool = False


def chapter_mm(style: BookStyle, *, sub: bool) -> float:
    """The height of a chapter's heading with the room below it."""
    return style.scale * (_HEADING_MM + (_SUB_MM if sub else 0.0)) + 3.0


def chapter_items(title: str, style: BookStyle, sub: str = "") -> tuple[Content, ...]:
    """The heading of a chapter, with a line below where ``sub`` says something."""
    height = chapter_mm(style, sub=bool(sub)) - 3.0
    heading = {
        "kind": "heading",
        "level": 1,
        "size": 20,
        "title": printable(title),
        "sub": printable(sub),
        "height_mm": round(height, 2),
    }
    return heading, {"kind": "gap", "mm": 3.0}


def cover_items(title: str, sub: str, author: str, edition: str, note: str) -> tuple[Content, ...]:
    """The cover."""
    cover = {"title": title, "sub": sub, "author": author, "edition": edition, "note": note}
    return ({"kind": "cover", **{key: printable(text) for key, text in cover.items()}},)


def rights_items(
    style: BookStyle,
    rights: str,
    charts: Sequence[tuple[str, str, str]],
    unknown: Sequence[str],
) -> tuple[Content, ...]:
    """Who owns what: the book's own words, each chart with its author and rights, a warning where
    nobody knows, and the faces that it is set in. ``charts`` are title, author, rights."""
    words = language(style.language)
    items = list(chapter_items(words.word("rights"), style))
    items += [_paragraph(text) for text in _split(rights)]
    items.append(_paragraph(words.word("charts"), strong=True, below=1))
    for title, by, said in charts:
        told = ", ".join(part for part in (by, words.rights(said)) if part)
        items.append(_paragraph(f"{title}: {told}", below=1))
    items.append({"kind": "gap", "mm": 3})
    if unknown:
        items.append(_paragraph(words.word("unknown", titles=", ".join(unknown)), strong=True))
    items.append(_paragraph(words.caution("rights"), size=9.5))
    items.append(_paragraph(f"{words.word('made')} {_faces(style, words)}", size=9.5))
    return tuple(items)


def before_items(style: BookStyle, foreword: str) -> tuple[Content, ...]:
    """What to read before playing: the author's own words, and the cautions."""
    words = language(style.language)
    items = list(chapter_items(words.word("before"), style))
    items += [_paragraph(text, below=4) for text in _split(foreword)]
    items += [_paragraph(words.caution(name), below=4) for name in ("hearing", "strain")]
    return tuple(items)


def list_pages(
    heading: Sequence[Content], lines: Sequence[Line], style: BookStyle
) -> list[tuple[Content, ...]]:
    """Lines in columns, as many pages as they need; the first begins with the heading."""
    count = 1 if style.is_large else 2
    height = style.scale * _ENTRY_MM
    width = (TEXT_WIDTH_MM - (count - 1) * _GUTTER_MM) / count
    room = style.text_height_mm - chapter_mm(style, sub=False)
    columns = list(_columns(lines, int(room / height)))
    pages = []
    for start in range(0, len(columns), count):
        group = columns[start : start + count]
        group += [[] for _ in range(count - len(group))]
        entries = [[_entry(line, width, height, style) for line in column] for column in group]
        head = heading if start == 0 else ()
        pages.append((*head, {"kind": "columns", "columns": entries}))
    return pages


def _columns(lines: Sequence[Line], most: int) -> Iterator[list[Line]]:
    """Lines column by column; a heading is never the last of one."""
    column: list[Line] = []
    for number, line in enumerate(lines):
        stays = line.strong and number + 1 < len(lines) and not lines[number + 1].strong
        if len(column) + (2 if stays else 1) > most:
            yield column
            column = []
        column.append(line)
    if column:
        yield column


def _entry(line: Line, width_mm: float, height_mm: float, style: BookStyle) -> Content:
    indent = 0.0 if line.strong else 3.0
    room = width_mm - indent - _NUMBER_MM - 3.0
    return {
        "text": _clipped(printable(line.text), room, style),
        "page": line.page,
        "strong": line.strong,
        "indent": indent,
        "height_mm": round(height_mm, 3),
    }


def _clipped(text: str, width_mm: float, style: BookStyle) -> str:
    """A text that fits on one line."""
    size = _ENTRY_PT * style.scale
    if line_count(text, size, width_mm) <= 1:
        return text
    words = text.split(" ")
    while len(words) > 1 and line_count(" ".join(words) + " …", size, width_mm) > 1:
        words.pop()
    return " ".join(words) + " …"


def _paragraph(text: str, *, size: float = 10.5, strong: bool = False, below: float = 3) -> Content:
    return {
        "kind": "paragraph",
        "text": printable(text),
        "size": size,
        "strong": strong,
        "below": below,
    }


def _split(text: str) -> list[str]:
    return [part.strip() for part in text.split("\n\n") if part.strip()]


def _faces(style: BookStyle, words: Language) -> str:
    look = look_of(style.look)
    text = "Atkinson Hyperlegible" if style.size == "easy" else look.family
    return words.word("fonts", text=text, music=look.music)
