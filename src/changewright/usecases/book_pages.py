"""Which page holds what: front matter, chapters, answers, indexes and scales, with the same page
numbers in every edition."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from changewright.page.book import BookHead, exercise_items
from changewright.page.book_exercise import block_of
from changewright.page.book_layout import Block, Slot, paginate
from changewright.page.book_matter import (
    Line,
    before_pages,
    chapter_items,
    chapter_mm,
    cover_items,
    list_pages,
    rights_pages,
)
from changewright.page.joining import Bookmark
from changewright.page.language import language
from changewright.page.symbol import name_text
from changewright.theory.key import Key
from changewright.theory.pitch import Name
from changewright.theory.transposition import transpose_key_for
from changewright.usecases.book_editions import Edition
from changewright.usecases.book_plan import BookPlan, Piece

__all__ = [
    "EditionPages",
    "Engraved",
    "Layout",
    "PagePart",
    "SetPiece",
    "edition_pages",
    "lay_out_book",
]

Content = dict[str, Any]
Items = tuple[Content, ...]

_PAGES_A_PART = 24


@dataclass(frozen=True, slots=True)
class Engraved:
    """What was engraved for all editions: ``key`` finds the drawings, ``told`` says of each edition
    what stands in the head and how high the rows are."""

    key: str
    told: Mapping[str, Any]

    @property
    def number(self) -> int:
        """The number of an exercise; scales have none."""
        return 0

    def content(self, edition: Edition, kind: str) -> Content:
        """One reader's ``exercise``, ``answer`` or ``scales``; rows name where they are drawn."""
        found = self.told[edition.id]
        if kind != "scales":
            found = found[kind]
        part = f"{'answers' if kind == 'answer' else 'rows'}/{edition.id}"
        rows = [{**row, "from": [self.key, part, n]} for n, row in enumerate(found["rows"])]
        return {**found, "number": self.number, "rows": rows}


@dataclass(frozen=True, slots=True)
class SetPiece(Engraved):
    """An exercise, composed and engraved."""

    piece: Piece

    @property
    def number(self) -> int:
        """Its number in the book."""
        return self.piece.number

    def has_answer(self, edition: Edition) -> bool:
        """Whether it leaves something open."""
        return "answer" in self.told[edition.id]


@dataclass(frozen=True, slots=True)
class _Run:
    """A chapter, the answers, or a chapter's scales: blocks and the pages that they fill."""

    kind: str
    chapter: int
    pieces: tuple[Engraved, ...]
    blocks: tuple[Block, ...]
    slots: tuple[tuple[Slot, ...], ...]
    first_page: int

    @property
    def end(self) -> int:
        """The page after the last."""
        return self.first_page + len(self.slots)


@dataclass(frozen=True, slots=True)
class Layout:
    """Where everything stands, in all editions alike. ``pages_of`` says of an exercise, by its
    number, on which pages it stands and with which bar each of them begins."""

    runs: tuple[_Run, ...]
    pages_of: Mapping[int, tuple[tuple[int, int], ...]]
    titles: Mapping[int, str]
    phrases: Mapping[str, tuple[tuple[int, int], ...]]
    contents_pages: int
    indexes: Mapping[str, int]
    count: int

    def page_of(self, number: int, bar: int = 0) -> int:
        """The page where an exercise begins, or where one of its bars is."""
        first, *later = self.pages_of[number]
        return max([first[0], *(page for page, opening in later if opening <= bar)])


@dataclass(frozen=True, slots=True)
class PagePart:
    """A run of pages as JSON, to be typeset by itself."""

    pages: str
    continued: bool


@dataclass(frozen=True, slots=True)
class EditionPages:
    """All of one edition: its parts in order and its bookmarks."""

    parts: tuple[PagePart, ...]
    bookmarks: tuple[Bookmark, ...]


def lay_out_book(plan: BookPlan, pieces: Sequence[SetPiece], scales: Sequence[Engraved]) -> Layout:
    """Give every exercise its page; as high as the highest edition needs it."""
    words = language(plan.style.language)
    titles = {one.number: _title(plan, one) for one in pieces}
    phrases = _phrases(plan, pieces)
    blank = Layout((), {}, titles, phrases, 0, {}, 0)
    contents = len(list_pages((), _contents(plan, blank, bool(scales)), plan.style))
    at = 1 + sum(map(len, _opening(plan))) + contents + 1
    runs: list[_Run] = []
    for chapter in range(len(plan.tonics)):
        inside = tuple(one for one in pieces if one.piece.chapter == chapter)
        runs.append(_run(plan, "exercise", chapter, inside, at))
        at = runs[-1].end
    pages_of = _pages_of(runs, plan.editions[0])
    open_ones = tuple(s for s in pieces if s.has_answer(plan.editions[0]))
    if open_ones:
        runs.append(_run(plan, "answer", -1, open_ones, at))
        at = runs[-1].end
    indexes: dict[str, int] = {}
    laid = replace(blank, pages_of=pages_of)
    for name in ("families", "phrases"):
        lines = _index(plan, laid, name)
        if lines:
            indexes[name] = at
            at += len(list_pages(chapter_items(words.word(name), plan.style), lines, plan.style))
    if scales:
        runs.append(_run(plan, "scales", -1, tuple(scales), at))
        at = runs[-1].end
    return Layout(tuple(runs), pages_of, titles, phrases, contents, indexes, at - 1)


def _pages_of(runs: Sequence[_Run], edition: Edition) -> dict[int, tuple[tuple[int, int], ...]]:
    """The pages of each exercise; which bar opens each is the first edition's."""
    found: dict[int, list[tuple[int, int]]] = {}
    for run in runs:
        for page, slots in enumerate(run.slots, start=run.first_page):
            for slot in slots:
                piece = run.pieces[slot.block]
                opening = piece.content(edition, run.kind)["rows"][slot.start]["first"]
                found.setdefault(piece.number, []).append((page, opening))
    return {number: tuple(pages) for number, pages in found.items()}


def _run(
    plan: BookPlan, kind: str, chapter: int, pieces: tuple[Engraved, ...], first_page: int
) -> _Run:
    blocks = tuple(
        block_of([piece.content(edition, kind) for edition in plan.editions]) for piece in pieces
    )
    if kind == "scales":
        below = chapter_mm(plan.style, sub=False)
        blocks = tuple(replace(block, head_mm=below) for block in blocks)
    above = chapter_mm(plan.style, sub=True)
    lowered = (replace(blocks[0], head_mm=blocks[0].head_mm + above), *blocks[1:])
    slots = paginate(lowered, plan.style.text_height_mm, first_page)
    return _Run(kind, chapter, pieces, blocks, tuple(map(tuple, slots)), first_page)


def _title(plan: BookPlan, one: SetPiece) -> str:
    told = one.told[plan.editions[0].id]["exercise"]
    return f"{told['title']} · {told['about']}"


def _phrases(plan: BookPlan, pieces: Sequence[SetPiece]) -> dict[str, tuple[tuple[int, int], ...]]:
    """Where each quoted phrase stands: its degrees, and exercises with the bars."""
    found: dict[str, list[tuple[int, int]]] = {}
    for one in pieces:
        for phrase in one.told[plan.editions[0].id]["phrases"]:
            place = (one.number, phrase["bar"])
            found.setdefault(phrase["degrees"], []).append(place)
    return {degrees: tuple(places) for degrees, places in sorted(found.items())}


def _contents(plan: BookPlan, layout: Layout, scales: bool) -> list[Line]:
    words = language(plan.style.language)
    lines: list[Line] = []
    chapters: dict[int, list[Piece]] = {}
    for piece in plan.pieces():
        chapters.setdefault(piece.chapter, []).append(piece)
    for chapter, inside in chapters.items():
        pages = [layout.page_of(p.number) if layout.runs else None for p in inside]
        lines.append(Line(name_text(plan.tonics[chapter]), pages[0], strong=True))
        lines += [
            Line(f"{p.number}. {layout.titles[p.number]}", page)
            for p, page in zip(inside, pages, strict=True)
        ]
    behind = {run.kind: run.first_page for run in layout.runs if run.chapter < 0}
    behind |= layout.indexes
    kinds = [("answer", "answers"), ("families", "families"), ("phrases", "phrases")]
    if scales:
        kinds.append(("scales", "scales"))
    lines += [
        Line(words.word(word), behind.get(kind), strong=True)
        for kind, word in kinds
        if kind in behind or not layout.runs
    ]
    return lines


def _index(plan: BookPlan, layout: Layout, name: str) -> list[Line]:
    """The lines of an index: exercises by family, or phrases by their degrees."""
    if name == "phrases":
        return [line for degrees in layout.phrases for line in _phrase_lines(plan, layout, degrees)]
    by_title: dict[str, list[Line]] = {}
    number = language(plan.style.language).word("number")
    for piece in plan.pieces():
        family, _, about = layout.titles[piece.number].partition(" · ")
        tonic = name_text(plan.tonics[piece.chapter])
        text = f"{tonic} · {about} · {number} {piece.number}"
        line = Line(text, layout.page_of(piece.number))
        by_title.setdefault(family, []).append(line)
    return [
        line
        for title, lines in sorted(by_title.items())
        for line in (Line(title, strong=True), *lines)
    ]


def _phrase_lines(plan: BookPlan, layout: Layout, degrees: str) -> Iterator[Line]:
    words = language(plan.style.language)
    yield Line(degrees, strong=True)
    for number, bar in layout.phrases[degrees]:
        yield Line(words.word("at", number=number, bar=bar), layout.page_of(number, bar))


def edition_pages(plan: BookPlan, edition: Edition, layout: Layout, head: BookHead) -> EditionPages:
    """All pages of one edition as content, cut into parts."""
    sections = list(_sections(plan, edition, layout, head))
    parts = [part for section in sections for part in _parts(section)]
    marks = _bookmarks(plan, layout)
    return EditionPages(tuple(parts), tuple(marks))


@dataclass(frozen=True, slots=True)
class _Page:
    items: Items
    chapter: str = ""
    labels: tuple[str, ...] = ()
    bare: bool = False


@dataclass(frozen=True, slots=True)
class _Section:
    first_page: int
    pages: tuple[_Page, ...]


def _sections(
    plan: BookPlan, edition: Edition, layout: Layout, head: BookHead
) -> Iterator[_Section]:
    yield _front(plan, layout, head)
    for run in layout.runs:
        if run.kind != "scales":
            yield _section(plan, edition, run)
    words = language(plan.style.language)
    for name, first in layout.indexes.items():
        heading = chapter_items(words.word(name), plan.style)
        pages = list_pages(heading, _index(plan, layout, name), plan.style)
        yield _Section(first, tuple(_Page(items, words.word(name)) for items in pages))
    for run in layout.runs:
        if run.kind == "scales":
            yield _section(plan, edition, run)


def _front(plan: BookPlan, layout: Layout, head: BookHead) -> _Section:
    words, style = language(plan.style.language), plan.style
    rights, before = _opening(plan)
    note = " · ".join(t for t in (plan.note, plan.dated.isoformat() if plan.dated else "") if t)
    scales = any(run.kind == "scales" for run in layout.runs)
    lists = list_pages(
        chapter_items(words.word("contents"), style), _contents(plan, layout, scales), style
    )
    pages = (
        _Page(cover_items(plan.title, plan.subtitle, plan.author, head.edition, note), bare=True),
        *(_Page(items, words.word("rights")) for items in rights),
        *(_Page(items, words.word("before")) for items in before),
        *(_Page(items, words.word("contents")) for items in lists),
    )
    return _Section(1, pages)


def _opening(plan: BookPlan) -> tuple[list[Items], list[Items]]:
    """The pages between cover and contents: rights, and what to read before playing."""
    charts = [(chart.title, chart.by, chart.rights) for chart in plan.charts]
    rights = rights_pages(plan.style, plan.rights, charts, plan.unknown_rights)
    return rights, before_pages(plan.style, plan.foreword)


def _section(plan: BookPlan, edition: Edition, run: _Run) -> _Section:
    title, sub, short = _headings(plan, edition, run)
    contents = {n: piece.content(edition, run.kind) for n, piece in enumerate(run.pieces)}
    if run.kind == "scales":
        for n, content in contents.items():
            content["heading"] = _key_words(plan, edition, n)[0]
            content["head_mm"] = chapter_mm(plan.style, sub=False)
    pages = []
    for number, slots in enumerate(run.slots):
        above = chapter_items(title, plan.style, sub or " ") if number == 0 else ()
        items = exercise_items(
            slots,
            run.blocks,
            contents,
            plan.style,
            above=above,
            above_mm=chapter_mm(plan.style, sub=True) if above else 0.0,
        )
        labels = tuple(contents[s.block]["label"] for s in slots if "label" in contents[s.block])
        pages.append(_Page(items, short, labels))
    return _Section(run.first_page, tuple(pages))


def _headings(plan: BookPlan, edition: Edition, run: _Run) -> tuple[str, str, str]:
    """Title, the line below it, and the running head."""
    words = language(plan.style.language)
    if run.kind == "exercise":
        title, sub = _key_words(plan, edition, run.chapter)
        return title, sub, sub
    word = "answers" if run.kind == "answer" else "scales"
    return words.word(word), words.word(f"{word}_note"), words.word(word)


def _key_words(plan: BookPlan, edition: Edition, chapter: int) -> tuple[str, str]:
    """A chapter's key as a title, and as it sounds and is read."""
    words = language(plan.style.language)
    tonic = plan.tonics[chapter]
    sounding = words.word("concert", key=name_text(tonic))
    read = _read_tonic(tonic, edition)
    if read == tonic:
        return name_text(tonic), sounding
    return name_text(tonic), f"{sounding} · {words.word('written', key=name_text(read))}"


def _read_tonic(tonic: Name, edition: Edition) -> Name:
    return transpose_key_for(edition.instrument, Key(tonic, "major")).tonic


def _parts(section: _Section) -> Iterator[PagePart]:
    for start in range(0, len(section.pages), _PAGES_A_PART):
        pages = [
            {
                "number": section.first_page + start + n,
                "items": [_raised(item) for item in page.items] if start else page.items,
                "chapter": page.chapter,
                "labels": page.labels,
                "bare": page.bare,
            }
            for n, page in enumerate(section.pages[start : start + _PAGES_A_PART])
        ]
        yield PagePart(json.dumps(pages, ensure_ascii=False), continued=start > 0)


def _raised(item: Content) -> Content:
    """An item whose heading is of level 1, as a part by itself must begin; joined, it is of 2."""
    return {**item, "level": 1} if "level" in item else item


def _bookmarks(plan: BookPlan, layout: Layout) -> Iterator[Bookmark]:
    words = language(plan.style.language)
    rights, before = _opening(plan)
    yield Bookmark(words.word("rights"), 2)
    yield Bookmark(words.word("before"), 2 + len(rights))
    yield Bookmark(words.word("contents"), 2 + len(rights) + len(before))
    for run in layout.runs:
        if run.kind == "exercise":
            yield Bookmark(name_text(plan.tonics[run.chapter]), run.first_page)
            for one in run.pieces:
                title = f"{one.number}. {layout.titles[one.number]}"
                yield Bookmark(title, layout.page_of(one.number), 2)
    behind = [(r.first_page, r.kind) for r in layout.runs if r.kind != "exercise"]
    behind += [(page, name) for name, page in layout.indexes.items()]
    for page, kind in sorted(behind):
        yield Bookmark(words.word("answers" if kind == "answer" else kind), page)
