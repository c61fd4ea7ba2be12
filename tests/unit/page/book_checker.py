"""Read a finished book as its reader's software does, and find what a copyist would cross out.

Independent of our layout: boxes of systems and their words come from the PDF's tags, letters and
their boxes from PDFium, fonts and glyph codes from pypdf. Source: ISO 32000-1, 9.7 and 14.8.
"""

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import pypdfium2
from pypdf import PdfReader
from pypdf.generic import ContentStream, DictionaryObject

MUSIC = re.compile(r"(Bar|Pickup|Takt|Auftakt)\b")
_WORD = re.compile(r"[A-Za-z]{5,}")
Letter = tuple[str, float, float, float, float]


@dataclass(frozen=True)
class Area:
    """A system on a page, in points, y upwards, with the bars that it holds."""

    left: float
    low: float
    right: float
    high: float
    words: str

    @property
    def bars(self) -> tuple[int, ...]:
        return tuple(int(n) for n in re.findall(r"(?:^|; )(?:Bar|Takt) (\d+)", self.words))

    def meets(self, other: "Area") -> bool:
        return (
            self.left < other.right - 0.5
            and other.left < self.right - 0.5
            and self.low < other.high - 0.5
            and other.low < self.high - 0.5
        )


@dataclass(frozen=True)
class Page:
    number: int
    width: float
    height: float
    text: str
    systems: tuple[Area, ...]
    letters: tuple[Letter, ...]


def read_pages(pdf: bytes) -> list[Page]:
    reader = PdfReader(io.BytesIO(pdf), strict=True)
    areas: dict[int, list[Area]] = {}
    document = reader.trailer["/Root"]["/StructTreeRoot"]["/K"][0].get_object()
    for page, area in _figures(reader, document):
        areas.setdefault(page, []).append(area)
    drawn = pypdfium2.PdfDocument(pdf)
    pages = []
    for number, page in enumerate(drawn, start=1):
        text = page.get_textpage()
        letters = tuple(
            (text.get_text_range(i, 1), *text.get_charbox(i)) for i in range(text.count_chars())
        )
        width, height = page.get_size()
        systems = tuple(areas.get(number, ()))
        pages.append(Page(number, width, height, text.get_text_range(), systems, letters))
    return pages


def _figures(reader: PdfReader, element: DictionaryObject) -> Iterator[tuple[int, Area]]:
    if element.get("/S") == "/Figure" and MUSIC.match(str(element.get("/Alt", ""))):
        (layout,) = [a for a in element["/A"] if "/BBox" in a]
        left, low, right, high = map(float, layout["/BBox"])
        number = reader.get_page_number(element["/Pg"].get_object())
        yield number + 1, Area(left, low, right, high, str(element["/Alt"]))
    kids = element.get("/K", ())
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object()
        if isinstance(kid, DictionaryObject) and "/S" in kid:
            yield from _figures(reader, kid)


def faults(page: Page) -> list[str]:
    """What is wrong on one page of a book."""
    found = [
        f"{a.words[:20]} meets {b.words[:20]}"
        for a, b in combinations(page.systems, 2)
        if a.meets(b)
    ]
    found += [f"{a.words[:20]} leaves the page" for a in page.systems if _is_off(page, a)]
    found += [fault for letter in page.letters for fault in _letter_faults(page, letter)]
    found += [f"{word!r} stands inside a system" for word in _words_inside(page)]
    if len(page.text.split()) < 3:
        found.append("the page is empty")
    if len(page.systems) == 1:
        found.append("one system stands alone")
    return found


def _is_off(page: Page, area: Area) -> bool:
    sideways = area.left < 20 or area.right > page.width - 20
    return sideways or area.low < 40 or area.high > page.height - 40


def _letter_faults(page: Page, placed: Letter) -> Iterator[str]:
    letter, left, low, right, high = placed
    if not letter.strip() or right <= left:
        return
    if left < 15 or right > page.width - 15 or low < 10 or high > page.height - 10:
        yield f"{letter!r} leaves the page"
    if letter == "\ufffd":
        yield "a letter that no software can read"
    for area in page.systems:
        if area.left < (left + right) / 2 < area.right and any(
            low + 1 < edge < high - 1 for edge in (area.low, area.high)
        ):
            yield f"{letter!r} stands on the edge of {area.words[:20]}"


def _words_inside(page: Page) -> Iterator[str]:
    for area in page.systems:
        inside = "".join(
            letter if letter.strip() else " "
            for letter, left, low, right, high in page.letters
            if area.left <= left and right <= area.right and area.low <= low and high <= area.high
        )
        yield from _WORD.findall(inside)


def font_faults(pdf: bytes, allowed: set[str]) -> list[str]:
    """Fonts that are not ours or not inside the file."""
    found = []
    reader = PdfReader(io.BytesIO(pdf), strict=True)
    for page in reader.pages:
        for font in (page["/Resources"].get("/Font") or {}).values():
            (inner,) = font.get_object()["/DescendantFonts"].get_object()
            inner = inner.get_object()
            name = str(inner["/BaseFont"]).partition("+")[2]
            descriptor = inner["/FontDescriptor"]
            if name not in allowed:
                found.append(f"{name} is not ours")
            if not {"/FontFile2", "/FontFile3"} & set(descriptor):
                found.append(f"{name} is not embedded")
            if "/ToUnicode" not in font.get_object():
                found.append(f"{name} can't be searched")
    return found


def missing_glyphs(pdf: bytes) -> list[str]:
    """Pages on which a glyph 0, the box for a letter that a font lacks, is shown."""
    reader = PdfReader(io.BytesIO(pdf), strict=True)
    return [
        f"page {n}"
        for n, page in enumerate(reader.pages, start=1)
        if any(_shows_nothing(stream) for stream in _streams(reader, page))
    ]


def _streams(reader: PdfReader, holder: DictionaryObject) -> Iterator[ContentStream]:
    content = holder.get_contents() if "/Contents" in holder else ContentStream(holder, reader)
    if content is not None:
        yield content
    resources = holder.get("/Resources", DictionaryObject()).get_object()
    for thing in resources.get("/XObject", DictionaryObject()).get_object().values():
        if thing.get_object().get("/Subtype") == "/Form":
            yield from _streams(reader, thing.get_object())


def _shows_nothing(stream: ContentStream) -> bool:
    for operands, operator in stream.operations:
        if operator in (b"Tj", b"TJ"):
            shown = operands[0] if operator == b"TJ" else operands
            for piece in shown:
                raw = getattr(piece, "original_bytes", b"")
                if any(raw[i : i + 2] == b"\0\0" for i in range(0, len(raw), 2)):
                    return True
    return False
