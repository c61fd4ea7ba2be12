"""Let XML in through a guarded door: no document type of its own, no entities, bounded size.

Only elements that a lead sheet needs are kept, each with its line; everything below an element
that isn't kept is dropped while reading, so that a full score costs little more than its notes.
"""

import io
import zipfile
import zlib
from dataclasses import dataclass, field
from xml.parsers import expat

from changewright.errors import ChartError, Place

__all__ = ["MOST_UNPACKED", "Node", "is_zip", "parse_xml", "unpack_mxl"]

MOST_UNPACKED = 32_000_000
"""Bytes a compressed score may unpack to."""

_MOST_RATIO = 300  # real scores shrink 20 to 100 times; a bomb a thousand times
_DEEPEST = 64
_MOST_ELEMENTS = 2_000_000
_MOST_KEPT = 200_000
_LONGEST_TEXT = 10_000
_MOST_ENTRIES = 1000
_CHUNK = 65_536


@dataclass(slots=True)
class Node:
    """An element: its tag, attributes, children, text and line."""

    tag: str
    attributes: dict[str, str]
    line: int
    children: list["Node"] = field(default_factory=list)
    text: str = ""

    def get(self, name: str, default: str = "") -> str:
        """An attribute."""
        return self.attributes.get(name, default)

    def all(self, tag: str) -> list["Node"]:
        """The children with a tag."""
        return [child for child in self.children if child.tag == tag]

    def find(self, *path: str) -> "Node | None":
        """The first descendant along a path of tags."""
        node: Node | None = self
        for tag in path:
            node = next((c for c in node.children if c.tag == tag), None) if node else None
        return node

    def said(self, *path: str) -> str:
        """The text of the first descendant along a path, or nothing."""
        node = self.find(*path)
        return node.text.strip() if node else ""


def parse_xml(content: bytes, name: str, kept: frozenset[str]) -> Node:
    """Read XML into nodes, keeping only elements in ``kept`` (and the root).

    Raises :class:`ChartError` for anything malformed, too deep, too large, or with declarations
    of its own.
    """
    builder = _Builder(name, kept)
    try:
        for start in range(0, max(len(content), 1), _CHUNK):
            builder.parser.Parse(content[start : start + _CHUNK], False)
        builder.parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise builder.fault(f"broken XML ({expat.ErrorString(error.code)})") from None
    except (ValueError, LookupError):  # an encoding that the parser can't use
        raise builder.fault("this XML is in an encoding that can't be read") from None
    if builder.root is None:
        raise builder.fault("an empty XML file")
    return builder.root


class _Builder:
    """Expat's handlers, gathering nodes."""

    def __init__(self, name: str, kept: frozenset[str]) -> None:
        self.name = name
        self.kept = kept
        self.root: Node | None = None
        self.open: list[Node] = []
        self.skipping = 0
        self.count = 0
        self.kept_count = 0
        self.parser = parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        parser.StartElementHandler = self.start
        parser.EndElementHandler = self.end
        parser.CharacterDataHandler = self.characters
        parser.StartDoctypeDeclHandler = self.doctype
        parser.EntityDeclHandler = self.declared
        parser.ExternalEntityRefHandler = self.external

    def fault(self, what: str, remedy: str = "Export the lead sheet again.") -> ChartError:
        where = Place(self.name, self.parser.CurrentLineNumber or 1)
        return ChartError(what, where=where, remedy=remedy)

    def doctype(
        self, _name: str, _system: str | None, _public: str | None, has_internal: bool
    ) -> None:
        if has_internal:
            raise self.fault("this XML declares a document type of its own, and we read none")

    def declared(self, *_: object) -> None:
        raise self.fault("this XML declares entities, and a lead sheet needs none")

    def external(self, *_: object) -> bool:
        raise self.fault("this XML asks for another file, and a lead sheet needs none")

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.count += 1
        too_many = self.count > _MOST_ELEMENTS or self.kept_count > _MOST_KEPT
        if too_many or len(self.open) + self.skipping >= _DEEPEST:
            raise self.fault("this XML is nested or repeated beyond any lead sheet")
        if self.skipping or (self.open and tag not in self.kept):
            self.skipping += 1
            return
        if len(attributes) > 64:
            raise self.fault("an element with too many attributes")
        self.kept_count += 1
        node = Node(tag, attributes, self.parser.CurrentLineNumber)
        self._append(node)
        self.open.append(node)

    def _append(self, node: Node) -> None:
        if self.open:
            self.open[-1].children.append(node)
        else:
            self.root = node

    def end(self, _tag: str) -> None:
        if self.skipping:
            self.skipping -= 1
        else:
            self.open.pop()

    def characters(self, text: str) -> None:
        if not self.skipping and self.open:
            node = self.open[-1]
            if len(node.text) + len(text) > _LONGEST_TEXT:
                raise self.fault("a text too long for a lead sheet")
            node.text += text


def is_zip(content: bytes) -> bool:
    """Whether this is a compressed score."""
    return content.startswith(b"PK\x03\x04")


def unpack_mxl(content: bytes, name: str) -> bytes:
    """Take the score out of a compressed MusicXML file.

    Raises :class:`ChartError` for broken archives and for those that unpack to far more than
    they hold. Source: MusicXML 4.0, container format.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return _member(archive, _score_name(archive, name), name)
    except ChartError:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError, OSError) as error:
        raise _fault(name, f"a broken compressed score ({type(error).__name__})") from None
    except (NotImplementedError, KeyError):
        raise _fault(name, "a compressed score packed in a way that can't be read") from None


def _score_name(archive: zipfile.ZipFile, name: str) -> str:
    names = archive.namelist()
    if len(names) > _MOST_ENTRIES:
        raise _fault(name, "a compressed score with too many files")
    if "META-INF/container.xml" in names:
        container = _member(archive, "META-INF/container.xml", name)
        root = parse_xml(container, name, frozenset({"rootfiles", "rootfile"}))
        found = root.find("rootfiles", "rootfile")
        if found is not None and found.get("full-path") in names:
            return found.get("full-path")
    scores = [n for n in names if n.endswith((".xml", ".musicxml")) and "META-INF" not in n]
    if not scores:
        raise _fault(name, "a zip file without a score in it")
    return scores[0]


def _member(archive: zipfile.ZipFile, member: str, name: str) -> bytes:
    info = archive.getinfo(member)
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise _fault(name, "a compressed score packed in a way that can't be read")
    most = min(MOST_UNPACKED, _MOST_RATIO * max(info.compress_size, 4096))
    with archive.open(info) as file:  # never trust the size that the archive states
        unpacked = file.read(most + 1)
    if len(unpacked) > most:
        raise _fault(name, "a compressed score that unpacks to far more than it holds")
    return unpacked


def _fault(name: str, what: str) -> ChartError:
    return ChartError(what, where=Place(name), remedy="Export the lead sheet again.")
