"""What stands before and after the exercises: cover, cautions, rights, contents and indexes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Any

from changewright.page.book_style import TEXT_WIDTH_MM, BookStyle, line_count
from changewright.page.language import Language, language
from changewright.page.look import look_of, printable

__all__ = [
    "Line",
    "before_pages",
    "chapter_items",
    "chapter_mm",
    "cover_items",
    "list_pages",
    "rights_pages",
]

Content = dict[str, Any]

_HEADING_MM, _SUB_MM = 11.0, 6.0
_ENTRY_MM, _ENTRY_PT = 4.9, 9.5
_GUTTER_MM, _NUMBER_MM = 8.0, 11.0
_POINT_MM = 25.4 / 72
_FEW = 4  # lines below a heading that are not parted from it
_LONGEST = 1200  # letters of a paragraph


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


def rights_pages(
    style: BookStyle,
    rights: str,
    charts: Sequence[tuple[str, str, str]],
    unknown: Sequence[str],
) -> list[tuple[Content, ...]]:
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
    return _flowed(items, style)


def before_pages(style: BookStyle, foreword: str) -> list[tuple[Content, ...]]:
    """What to read before playing: the author's own words, and the cautions."""
    words = language(style.language)
    items = list(chapter_items(words.word("before"), style))
    items += [_paragraph(text, below=4) for text in _split(foreword)]
    items += [_paragraph(words.caution(name), below=4) for name in ("hearing", "strain")]
    return _flowed(items, style)


def list_pages(
    heading: Sequence[Content], lines: Sequence[Line], style: BookStyle
) -> list[tuple[Content, ...]]:
    """Lines in one column, or two where one page would not hold them; the first page begins with
    the heading."""
    height = style.scale * _ENTRY_MM
    room = style.text_height_mm - chapter_mm(style, sub=False)
    columns = list(_columns(lines, int(room / height)))
    count = 1 if style.is_large or len(columns) == 1 else 2
    width = (TEXT_WIDTH_MM - (count - 1) * _GUTTER_MM) / count
    pages = []
    for start in range(0, len(columns), count):
        group = columns[start : start + count]
        group += [[] for _ in range(count - len(group))]
        entries = [[_entry(line, width, height, style) for line in column] for column in group]
        head = heading if start == 0 else ()
        pages.append((*head, {"kind": "columns", "columns": entries}))
    return pages


def _flowed(items: Sequence[Content], style: BookStyle) -> list[tuple[Content, ...]]:
    """Items as pages; a new one where a paragraph would not fit any more."""
    pages: list[list[Content]] = [[]]
    taken = 0.0
    for item in items:
        height = _height_mm(item, style)
        if pages[-1] and taken + height > style.text_height_mm:
            pages.append([])
            taken = 0.0
        pages[-1].append(item)
        taken += height
    return [tuple(page) for page in pages]


def _height_mm(item: Content, style: BookStyle) -> float:
    if item["kind"] == "paragraph":
        size = style.scale * float(item["size"])
        leading = 1.5 if style.size == "easy" else 1.3
        lines = line_count(item["text"], size * (1.05 if item["strong"] else 1.0))
        return lines * size * leading * _POINT_MM + float(item["below"])
    return float(item["height_mm"] if item["kind"] == "heading" else item["mm"])


def _columns(lines: Sequence[Line], most: int) -> Iterator[list[Line]]:
    """Lines column by column; a heading is never the last of one, and keeps a few lines whole."""
    column: list[Line] = []
    for number, line in enumerate(lines):
        if len(column) + _together(lines, number) > most:
            yield column
            column = []
        column.append(line)
    if column:
        yield column


def _together(lines: Sequence[Line], number: int) -> int:
    """How many lines from one on must stand in its column: a heading with all below it where they
    are few, else with the first."""
    if not lines[number].strong:
        return 1
    below = 0
    while number + below + 1 < len(lines) and not lines[number + below + 1].strong:
        below += 1
    return 1 + (below if below <= _FEW else 1)


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
    return " ".join(words).removesuffix(" ·") + " …"


def _paragraph(text: str, *, size: float = 10.5, strong: bool = False, below: float = 3) -> Content:
    return {
        "kind": "paragraph",
        "text": printable(text),
        "size": size,
        "strong": strong,
        "below": below,
    }


def _split(text: str) -> list[str]:
    """Paragraphs, the very long ones cut, so that none is higher than a page."""
    parts = [" ".join(part.split()) for part in text.split("\n\n") if part.strip()]
    return [piece for part in parts for piece in wrap(part, _LONGEST)]


def _faces(style: BookStyle, words: Language) -> str:
    look = look_of(style.look)
    text = "Atkinson Hyperlegible" if style.size == "easy" else look.family
    return words.word("fonts", text=text, music=look.music)
