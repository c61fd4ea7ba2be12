"""Parts of a book, typeset one by one, joined to one PDF: pages, bookmarks, tags and links.

It joins what the typesetter of :mod:`changewright.page._typst` writes and nothing else: plain
objects, flat trees of pages and of parents, one tagged document a part. Source: ISO 32000-1, 7.5
(file structure), 7.7.3 (page tree), 12.3.3 (outline), 14.7 (logical structure).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import count

from changewright.errors import EngineError

__all__ = ["PAGE_LINK", "Bookmark", "Part", "join_pdfs"]

PAGE_LINK = "page:"
"""A link to ``page:12`` in any part becomes a link to the twelfth page of the whole."""

_ROOTS = ("Catalog", "Info", "Pages", "Outlines", "StructTreeRoot", "Document", "Metadata")
# A reference, or a string in which something may only look like one.
_REFERENCE = re.compile(rb"\((?:[^()\\]|\\.)*\)|\b(\d+) 0 R\b", re.S)
_STREAM = re.compile(rb"\bstream\r?\n")
_KEY = re.compile(rb"/(StructParents?) (\d+)")
_LINK = re.compile(rb"/A\s*<</Type/Action/S/URI/URI\(page:(\d+)\)>>")
_PAIR = re.compile(rb"(\d+) (\d+) 0 R")


@dataclass(frozen=True, slots=True)
class Part:
    """A typeset PDF. ``continued`` says that it goes on within a chapter: its headings, which
    the typesetter holds for chapters, are a level lower in the whole."""

    pdf: bytes
    continued: bool = False


@dataclass(frozen=True, slots=True)
class Bookmark:
    """A bookmark to the top of a page, from 1; level 1 is a chapter, 2 stands below one."""

    title: str
    page: int
    level: int = 1


@dataclass(frozen=True, slots=True)
class _Read:
    objects: dict[int, bytes]
    roots: dict[str, int]
    pages: list[int]
    elements: list[int]
    parents: list[tuple[int, int]]


def join_pdfs(parts: Sequence[Part], bookmarks: Sequence[Bookmark] = ()) -> bytes:
    """Join PDFs of the typesetter in order; title and language are the first one's.

    Raises :class:`EngineError` where a part is not as the typesetter writes it, ``ValueError``
    for no parts.
    """
    if not parts:
        raise ValueError("a book has at least one part")
    joiner = _Joiner()
    try:
        for part in parts:
            joiner.add(_read(part.pdf), continued=part.continued)
        return joiner.whole(bookmarks)
    except (KeyError, ValueError, IndexError) as fault:
        raise EngineError(f"the typesetter wrote a PDF that can't be joined: {fault}") from fault


def _read(pdf: bytes) -> _Read:
    objects, trailer = _objects(pdf)
    catalogue = _ref(trailer, b"Root")
    roots = {
        "Catalog": catalogue,
        "Info": _ref(trailer, b"Info"),
        "Pages": _ref(objects[catalogue], b"Pages"),
        "Outlines": _ref(objects[catalogue], b"Outlines"),
        "StructTreeRoot": _ref(objects[catalogue], b"StructTreeRoot"),
        "Metadata": _ref(objects[catalogue], b"Metadata"),
    }
    structure = objects[roots["StructTreeRoot"]]
    (roots["Document"],) = _refs(structure, b"K")
    parents = _found(rb"/ParentTree\s*<</Nums\s*\[([^\]]*)\]", structure)
    return _Read(
        objects,
        roots,
        _refs(objects[roots["Pages"]], b"Kids"),
        _refs(objects[roots["Document"]], b"K"),
        [(int(key), int(target)) for key, target in _PAIR.findall(parents)],
    )


def _objects(pdf: bytes) -> tuple[dict[int, bytes], bytes]:
    """The bodies of all objects by number, found by the table at the end; and the trailer."""
    at = int(_found(rb"startxref\s+(\d+)\s+%%EOF\s*$", pdf[-64:]))
    table, _, trailer = pdf[at:].partition(b"trailer")
    entries = re.findall(rb"(\d{10}) \d{5} ([nf])", table)
    places = sorted((int(a), number) for number, (a, used) in enumerate(entries) if used == b"n")
    ends = [*(place for place, _ in places[1:]), at]
    objects = {}
    for (place, number), end in zip(places, ends, strict=True):
        start = pdf.index(b"obj", place) + 3
        objects[number] = pdf[start : pdf.rindex(b"endobj", start, end)].strip(b"\r\n ")
    return objects, trailer


def _found(pattern: bytes, text: bytes) -> bytes:
    match = re.search(pattern, text, re.S)
    if match is None:
        raise ValueError(f"no {pattern[:24].decode()!r}")
    return match[1]


def _ref(body: bytes, name: bytes) -> int:
    return int(_found(rb"/" + name + rb" (\d+) 0 R", body))


def _refs(body: bytes, name: bytes) -> list[int]:
    inside = _found(rb"/" + name + rb"\s*\[([^\]]*)\]", body)
    return [int(n) for n in re.findall(rb"(\d+) 0 R", inside)]


class _Joiner:
    """Numbers all objects anew. The first part's roots become the whole's and take in those of
    the others; they get the first numbers."""

    def __init__(self) -> None:
        self._bodies: dict[int, bytes] = {}
        self._next = count(len(_ROOTS) + 1)
        self._pages: list[int] = []
        self._elements: list[int] = []
        self._parents: list[tuple[int, int]] = []
        self._keys = 0

    def add(self, part: _Read, *, continued: bool) -> None:
        """Take a part in."""
        roots = {part.roots[name]: n for n, name in enumerate(_ROOTS, start=1)}
        others = {old: next(self._next) for old in part.objects if old not in roots}
        numbers = {**roots, **others}
        self._pages += [numbers[n] for n in part.pages]
        self._elements += [numbers[n] for n in part.elements]
        self._parents += [(self._keys + key, numbers[n]) for key, n in part.parents]
        for old, body in part.objects.items():
            if old in others or numbers[old] not in self._bodies:
                moved = _moved(body, numbers, self._keys)
                self._bodies[numbers[old]] = _lowered(moved) if continued else moved
        self._keys += 1 + max((key for key, _ in part.parents), default=-1)

    def whole(self, bookmarks: Sequence[Bookmark]) -> bytes:
        """The joined file."""
        for number, body in self._bodies.items():
            if b"/URI(page:" in body:
                self._bodies[number] = self._linked(body)
        roots = dict(zip(_ROOTS, range(1, len(_ROOTS) + 1), strict=True))
        kids = b" ".join(b"%d 0 R" % n for n in self._pages)
        self._bodies[roots["Pages"]] = b"<</Type/Pages/Count %d/Kids[%s]>>" % (
            len(self._pages),
            kids,
        )
        self._put(roots["Document"], rb"/K\s*\[[^\]]*\]", b"/K[%s]" % _row(self._elements))
        nums = b" ".join(b"%d %d 0 R" % pair for pair in sorted(self._parents))
        tree = roots["StructTreeRoot"]
        self._put(tree, rb"/Nums\s*\[[^\]]*\]", b"/Nums[%s]" % nums)
        self._put(tree, rb"/ParentTreeNextKey \d+", b"/ParentTreeNextKey %d" % self._keys)
        self._mark(roots["Outlines"], bookmarks)
        return self._file(roots["Metadata"])

    def _put(self, number: int, pattern: bytes, text: bytes) -> None:
        body, times = re.subn(pattern, lambda _: text, self._bodies[number], count=1)
        if not times:
            raise ValueError(f"no {pattern[:24].decode()!r}")
        self._bodies[number] = body

    def _linked(self, body: bytes) -> bytes:
        """Links by page number as links to pages."""

        def place(match: re.Match[bytes]) -> bytes:
            return b"/Dest[%d 0 R/Fit]" % self._pages[int(match[1]) - 1]

        return _LINK.sub(place, body).replace(b"/Contents(page:", b"/Contents(page ")

    def _mark(self, root: int, bookmarks: Sequence[Bookmark]) -> None:
        """Write the bookmarks as a tree of two levels, closed at first."""
        items = [(next(self._next), mark) for mark in bookmarks]
        chapters = [n for n, (_, mark) in enumerate(items) if mark.level == 1]
        if not chapters:
            return
        tops = [items[n][0] for n in chapters]
        self._bodies[root] = b"<</Type/Outlines/First %d 0 R/Last %d 0 R/Count %d>>" % (
            tops[0],
            tops[-1],
            len(tops),
        )
        for place, (start, end) in enumerate(
            zip(chapters, [*chapters[1:], len(items)], strict=True)
        ):
            number, mark = items[start]
            below = items[start + 1 : end]
            inside = b""
            if below:
                ends = (below[0][0], below[-1][0], len(below))
                inside = b"/First %d 0 R/Last %d 0 R/Count -%d" % ends
            beside = _beside(tops, place)
            self._bodies[number] = self._item(mark, root, beside + inside)
            for step, (child, lower) in enumerate(below):
                row = _beside([n for n, _ in below], step)
                self._bodies[child] = self._item(lower, number, row)

    def _item(self, mark: Bookmark, parent: int, rest: bytes) -> bytes:
        title = (b"\xfe\xff" + mark.title.encode("utf-16-be")).hex().upper().encode()
        page = self._pages[mark.page - 1]
        return b"<</Title<%s>/Dest[%d 0 R/Fit]/Parent %d 0 R%s>>" % (title, page, parent, rest)

    def _file(self, metadata: int) -> bytes:
        """The bodies as a file; its identity is the hash of its content."""
        mark = sha256(b"".join(self._bodies[n] for n in sorted(self._bodies))).hexdigest()[:32]
        self._bodies[metadata] = _told(self._bodies[metadata], len(self._pages), mark.encode())
        out = bytearray(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
        places = []
        for number in sorted(self._bodies):
            places.append(len(out))
            out += b"%d 0 obj\n%s\nendobj\n" % (number, self._bodies[number])
        at = len(out)
        out += b"xref\n0 %d\n0000000000 65535 f\r\n" % (len(places) + 1)
        out += b"".join(b"%010d 00000 n\r\n" % place for place in places)
        out += b"trailer\n<</Size %d/Root 1 0 R/Info 2 0 R/ID[<%s><%s>]>>\n" % (
            len(places) + 1,
            mark.encode(),
            mark.encode(),
        )
        return bytes(out + b"startxref\n%d\n%%%%EOF" % at)


def _row(numbers: Sequence[int]) -> bytes:
    return b" ".join(b"%d 0 R" % n for n in numbers)


def _beside(row: Sequence[int], place: int) -> bytes:
    before = b"/Prev %d 0 R" % row[place - 1] if place else b""
    return before + (b"/Next %d 0 R" % row[place + 1] if place + 1 < len(row) else b"")


def _moved(body: bytes, numbers: dict[int, int], first_key: int) -> bytes:
    """An object with its references and its key among the parents renumbered."""
    stream = _STREAM.search(body)
    head, rest = (body[: stream.start()], body[stream.start() :]) if stream else (body, b"")

    def moved(match: re.Match[bytes]) -> bytes:
        return match[0] if match[1] is None else b"%d 0 R" % numbers[int(match[1])]

    head = _REFERENCE.sub(moved, head)
    if first_key and b"/StructParent" in head:
        head = _KEY.sub(lambda m: b"/%s %d" % (m[1], int(m[2]) + first_key), head)
    return head + rest


def _lowered(body: bytes) -> bytes:
    return body.replace(b"/S/H1/", b"/S/H2/", 1) if b"/StructElem/S/H1/" in body else body


def _told(metadata: bytes, pages: int, mark: bytes) -> bytes:
    """The metadata of the whole: how many pages, and an identity of its own."""
    _, start, text = metadata.partition(b"stream\n")
    text = text[: text.rindex(b"endstream")].rstrip(b"\r\n")
    text = re.sub(rb"(?<=<xmpTPg:NPages>)\d+", b"%d" % pages, text)
    text = re.sub(rb"(?<=<xmpMM:)(InstanceID|DocumentID)>[^<]*", rb"\1>" + mark, text)
    head = b"<</Length %d/Type/Metadata/Subtype/XML>>\n" % len(text)
    return head + start + text + b"\nendstream"
