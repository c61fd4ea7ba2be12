"""Clauses of the standards for accessible and for archived PDFs, checked on a finished file.

Independent of what writes the files: everything is read by pypdf. The clauses are quoted from
memory of ISO 14289-1 (PDF/UA-1) and ISO 19005-2 (PDF/A-2, level A), and are not all of them: what
needs a look at the meaning (is the order right, does the text say what the picture shows) is left
to people. No validator of the standards' makers is to be had from the package registries in use.
"""

import io
import re
from collections import Counter
from collections.abc import Iterator

from pypdf import PageObject, PdfReader
from pypdf.generic import DictionaryObject, NameObject, StreamObject

_STANDARD = frozenset(
    [
        "Document",
        "Part",
        "Art",
        "Sect",
        "Div",
        "BlockQuote",
        "Caption",
        "TOC",
        "TOCI",
        "Index",
        "NonStruct",
        "Private",
        "P",
        "H",
        "H1",
        "H2",
        "H3",
        "H4",
        "H5",
        "H6",
        "L",
        "LI",
        "Lbl",
        "LBody",
        "Table",
        "TR",
        "TH",
        "TD",
        "THead",
        "TBody",
        "TFoot",
        "Span",
        "Quote",
        "Note",
        "Reference",
        "BibEntry",
        "Code",
        "Link",
        "Annot",
        "Ruby",
        "Warichu",
        "Figure",
        "Formula",
        "Form",
    ]
)
"""ISO 32000-1, 14.8.4: the standard structure types."""

_PAINTS = frozenset((b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*", b"S", b"s", b"Tj", b"TJ", b"Do"))
_DEVICE = frozenset((b"rg", b"RG", b"k", b"K", b"g", b"G"))
_FORBIDDEN = frozenset(("/JavaScript", "/Launch", "/Sound", "/Movie", "/ResetForm", "/ImportData"))
_LONGEST_STRING, _LONGEST_NAME, _MOST_OBJECTS = 32767, 127, 8388607


def accessible_faults(pdf: bytes) -> list[str]:
    """What a PDF/UA-1 file must not lack."""
    reader = PdfReader(io.BytesIO(pdf), strict=True)
    root = reader.trailer["/Root"]
    xmp = _xmp(root)
    found = []
    if "<pdfuaid:part>1<" not in xmp:
        found.append("5: the metadata do not say PDF/UA-1")
    marks = root.get("/MarkInfo", {})
    if not _is_true(marks.get("/Marked")) or _is_true(marks.get("/Suspects")):
        found.append("7.1: the file is not marked, or is suspect")
    if not re.search(r"<dc:title>.*?<rdf:li[^>]*>[^<]+<", xmp, re.S):
        found.append("7.1: no title in the metadata")
    if not _is_true(root.get("/ViewerPreferences", {}).get("/DisplayDocTitle")):
        found.append("7.1: the title is not shown")
    if not root.get("/Lang"):
        found.append("7.2: no language")
    elements = list(_elements(root.get("/StructTreeRoot", DictionaryObject()).get("/K", ())))
    found += _structure_faults(elements, root)
    for number, page in enumerate(reader.pages, start=1):
        found += [f"page {number}: {fault}" for fault in _page_faults(page, reader, elements)]
    return found


def _is_true(value: object) -> bool:
    return getattr(value, "value", False) is True


def _xmp(root: DictionaryObject) -> str:
    return root["/Metadata"].get_object().get_data().decode() if "/Metadata" in root else ""


def _elements(kids: object) -> Iterator[DictionaryObject]:
    """The elements of the structure tree in the order in which they are read."""
    for kid in kids if isinstance(kids, list) else [kids]:
        element = kid.get_object() if hasattr(kid, "get_object") else kid
        if isinstance(element, DictionaryObject) and "/S" in element:
            yield element
            yield from _elements(element.get("/K", ()))


def _structure_faults(elements: list[DictionaryObject], root: DictionaryObject) -> Iterator[str]:
    if not elements:
        yield "7.1: no structure tree"
        return
    roles = set(root["/StructTreeRoot"].get("/RoleMap", {}))
    level = 0
    for element in elements:
        kind = str(element["/S"])
        if kind[1:] not in _STANDARD and kind not in roles:
            yield f"7.1: {kind} is no standard type"
        if kind == "/Figure":
            if not str(element.get("/Alt", element.get("/ActualText", ""))).strip():
                yield "7.3: a figure without words for it"
            if not any("/BBox" in a for a in _attributes(element)):
                yield "7.3: a figure that does not say where it is"
        if heading := re.fullmatch(r"/H(\d)", kind):
            if int(heading[1]) > level + 1:
                yield f"7.4: after level {level} comes a heading of level {heading[1]}"
            level = int(heading[1])


def _attributes(element: DictionaryObject) -> list[DictionaryObject]:
    held = element.get("/A", [])
    return [a.get_object() for a in (held if isinstance(held, list) else [held])]


def _page_faults(
    page: PageObject, reader: PdfReader, elements: list[DictionaryObject]
) -> Iterator[str]:
    shown: Counter[int] = Counter()
    open_: list[str | int] = []
    content = page.get_contents()
    for operands, operator in content.operations if content is not None else ():
        if operator in (b"BDC", b"BMC"):
            inside = operands[1] if len(operands) > 1 else {}
            mark = inside.get("/MCID", str(operands[0])) if hasattr(inside, "get") else ""
            if isinstance(mark, int) and open_:
                yield "7.1: marked content inside marked content"
            open_.append(mark)
            if isinstance(mark, int):
                shown[mark] += 1
        elif operator == b"EMC":
            open_.pop()
        elif operator in _PAINTS and not any(isinstance(m, int) or m == "/Artifact" for m in open_):
            yield f"7.1: {operator.decode()} paints what is neither content nor artifact"
    told = Counter(mcid for element in elements for mcid in _marks(element, page))
    if shown - told or told - shown or any(times > 1 for times in told.values()):
        yield "7.1: content and structure do not match one to one"
    annotations = [a.get_object() for a in page.get("/Annots", ())]
    if annotations and page.get("/Tabs") != "/S":
        yield "7.18.3: the tab key does not follow the structure"
    held = {id(r) for e in elements if e["/S"] == "/Link" for r in _objects(e)}
    for one in annotations:
        if not str(one.get("/Contents", "")).strip():
            yield "7.18.5: a link without words"
        if id(one) not in held or "/StructParent" not in one:
            yield "7.18.5: a link outside the structure"


def _marks(element: DictionaryObject, page: PageObject) -> Iterator[int]:
    """The marked content that an element holds on a page."""
    kids = element.get("/K", ())
    for kid in kids if isinstance(kids, list) else [kids]:
        own = element.get("/Pg")
        if isinstance(kid, int):
            place, mcid = own, int(kid)
        else:
            inner = kid.get_object()
            if not isinstance(inner, DictionaryObject) or inner.get("/Type") != "/MCR":
                continue
            place, mcid = inner.get("/Pg", own), int(inner["/MCID"])
        if place is not None and place.get_object() is page.indirect_reference.get_object():
            yield mcid


def _objects(element: DictionaryObject) -> Iterator[DictionaryObject]:
    kids = element.get("/K", ())
    for kid in kids if isinstance(kids, list) else [kids]:
        inner = kid.get_object()
        if isinstance(inner, DictionaryObject) and inner.get("/Type") == "/OBJR":
            yield inner["/Obj"].get_object()


def archived_faults(pdf: bytes) -> list[str]:
    """What a PDF/A-2a file must not lack, or hold."""
    reader = PdfReader(io.BytesIO(pdf), strict=True)
    root, found = reader.trailer["/Root"], []
    if not re.match(rb"%PDF-1\.[0-7]\n%[\x80-\xff]{4}", pdf):
        found.append("6.1.2: the file does not begin as it must")
    if "/ID" not in reader.trailer or "/Encrypt" in reader.trailer:
        found.append("6.1.3: no identity, or a key is asked for")
    if len(reader.xref.get(0, {})) > _MOST_OBJECTS:
        found.append("6.1.13: too many objects")
    xmp = _xmp(root)
    if "<pdfaid:part>2<" not in xmp or "<pdfaid:conformance>A<" not in xmp:
        found.append("6.6.4: the metadata do not say PDF/A-2a")
    if "/Filter" in root["/Metadata"].get_object():
        found.append("6.6.2: the metadata are packed")
    title = reader.metadata.title if reader.metadata else None
    if title is not None and f">{title}<" not in xmp.replace("&amp;", "&"):
        found.append("6.6.3: two titles that differ")
    if not any(_is_profile(intent.get_object()) for intent in root.get("/OutputIntents", ())):
        found.append("6.2.3: no intent of output with a profile of its own")
    found += [fault for number in reader.xref[0] for fault in _object_faults(reader, number)]
    for number, page in enumerate(reader.pages, start=1):
        used = {op for _, op in page.get_contents().operations}
        if used & _DEVICE:
            found.append(f"page {number}: 6.2.4: a colour of no known space")
    return found


def _is_profile(intent: DictionaryObject) -> bool:
    profile = intent.get("/DestOutputProfile")
    if intent.get("/S") != "/GTS_PDFA1" or profile is None:
        return False
    stream = profile.get_object()
    return stream.get_data()[36:40] == b"acsp" and stream.get("/N") in (1, 3, 4)


def _object_faults(reader: PdfReader, number: int) -> Iterator[str]:
    body = reader.get_object(number)
    if isinstance(body, StreamObject):
        filters = body.get("/Filter", [])
        if "/LZWDecode" in ([filters] if isinstance(filters, NameObject) else filters):
            yield f"object {number}: 6.1.7: a filter that is not allowed"
        if "/F" in body:
            yield f"object {number}: 6.1.7: a stream kept elsewhere"
    if not isinstance(body, DictionaryObject):
        return
    if body.get("/S") in _FORBIDDEN and "/Type" in body:
        yield f"object {number}: 6.5.1: an action that is not allowed"
    if "/AA" in body or "/EmbeddedFiles" in body or "/XFA" in body:
        yield f"object {number}: 6.5.2: something that acts by itself"
    if body.get("/Subtype") == "/Link" and int(body.get("/F", 0)) & 0b100111 != 0b100:
        yield f"object {number}: 6.3.2: a link that would not be printed"
    for name, value in body.items():
        if len(name) > _LONGEST_NAME or (isinstance(value, str) and len(value) > _LONGEST_STRING):
            yield f"object {number}: 6.1.13: a name or a text is too long"


def unreadable_codes(pdf: bytes) -> list[str]:
    """Fonts whose shown letters have no Unicode. Source: ISO 14289-1, 7.21.7."""
    reader = PdfReader(io.BytesIO(pdf), strict=True)
    found = []
    for page in reader.pages:
        fonts = {k: v.get_object() for k, v in (page["/Resources"].get("/Font") or {}).items()}
        known = {k: _mapped(v) for k, v in fonts.items()}
        font = ""
        for operands, operator in page.get_contents().operations:
            if operator == b"Tf":
                font = str(operands[0])
            elif operator in (b"Tj", b"TJ"):
                pieces = operands[0] if operator == b"TJ" else operands
                raw = b"".join(getattr(p, "original_bytes", b"") for p in pieces)
                codes = {raw[i : i + 2] for i in range(0, len(raw), 2)}
                found += [f"{font} {code.hex()}" for code in codes - known[font]]
    return found


def _mapped(font: DictionaryObject) -> set[bytes]:
    """The codes that a font's table turns into letters."""
    table = font["/ToUnicode"].get_object().get_data().decode("latin-1")
    codes: set[bytes] = set()
    for block in re.findall(r"beginbfchar(.*?)endbfchar", table, re.S):
        codes |= {bytes.fromhex(code) for code, _ in re.findall(r"<(\w+)>\s*<(\w+)>", block)}
    for block in re.findall(r"beginbfrange(.*?)endbfrange", table, re.S):
        for low, high in re.findall(r"<(\w+)>\s*<(\w+)>", block):
            codes |= {n.to_bytes(2, "big") for n in range(int(low, 16), int(high, 16) + 1)}
    return codes
