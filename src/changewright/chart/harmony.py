"""Chord symbols in MusicXML's words: ``<harmony>`` elements in and out.

What a kind means is said in :mod:`changewright.theory.kinds`; here it meets XML.
"""

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from xml.etree.ElementTree import Element, SubElement

from changewright.chart.written import chord_of
from changewright.chart.xml_door import Node
from changewright.errors import ChordError
from changewright.theory import kinds
from changewright.theory.chord import Chord
from changewright.theory.kinds import Edit, Harmony, HarmonyDegree
from changewright.theory.pitch import Interval, Name
from changewright.theory.symbols import write_symbol

__all__ = ["harmony_elements", "harmony_symbol"]

_EDITS: dict[str, Edit] = {"add": "add", "alter": "alter", "subtract": "subtract"}
_NAME = r"[A-G](?:bb|##|[b♭#♯x])?"
_ROOT, _BASS = re.compile(rf"^\(?{_NAME}"), re.compile(rf"/{_NAME}\)?$")
_UNTYPED = re.compile(r"[\s<>:\\%|]")


def harmony_symbol(node: Node, to_concert: Interval) -> str:
    """Read a ``<harmony>`` as a chord symbol at concert pitch, in the score's own spelling where
    that says the same. Raises ValueError for what can't be read."""
    harmonies = list(_harmonies(node))
    if not harmonies:
        raise ValueError("it has no root")
    try:
        chord = kinds.chord_of(harmonies)
        symbol = write_symbol(chord.transpose(to_concert))
        chord_of(symbol)
    except ChordError as error:
        raise ValueError(error.what) from None
    said = _said(harmonies[0]) if len(harmonies) == 1 and to_concert.fifths == 0 else ""
    return said if said and _means(said, chord) else symbol


def _harmonies(node: Node) -> Iterator[Harmony]:
    """One for each root: several in one element are stacked, the upper first."""
    starts = [i for i, c in enumerate(node.children) if c.tag in ("root", "numeral", "function")]
    for start, stop in pairwise([*starts, len(node.children)]):
        part = Node("harmony", {}, node.line, node.children[start:stop])
        if part.find("root") is None:
            raise ValueError("it has a number and no root")
        yield _harmony(part)


def _harmony(part: Node) -> Harmony:
    kind = part.find("kind") or Node("kind", {}, part.line, text="major")
    degrees = tuple(_degree(degree) for degree in part.all("degree"))
    bass = _name(part, "bass") if part.find("bass") is not None else None
    name, text = _kind(kind.text.strip()), kind.get("text").strip()
    if not text and not degrees and (name == "other" or name not in kinds.KINDS):
        raise ValueError(f"the kind {name[:40]!r} without a text")
    return Harmony(_name(part, "root"), name, text, degrees, bass)


def _kind(name: str) -> str:
    """The schema's own spelling: programs differ in capitals."""
    return next((kind for kind in kinds.KINDS if kind.lower() == name.lower()), name)


def _degree(node: Node) -> HarmonyDegree:
    value, edit = node.said("degree-value"), _EDITS.get(node.said("degree-type"))
    if not re.fullmatch(r"[2-9]|1[0-3]", value, re.ASCII) or edit is None:
        raise ValueError(f"the degree {value[:10]!r}")
    return HarmonyDegree(edit, int(value), _alteration(node, "degree-alter"))


def _name(part: Node, tag: str) -> Name:
    letter = part.said(tag, f"{tag}-step")
    parent = part.find(tag)
    if parent is None or not re.fullmatch("[A-G]", letter):
        raise ValueError(f"the {tag} {letter[:5]!r}")
    return Name(Name.parse(letter).fifths + 7 * _alteration(parent, f"{tag}-alter"))


def _alteration(node: Node, tag: str) -> int:
    text = node.said(tag) or "0"
    if not re.fullmatch(r"[+-]?[0-2](\.0+)?", text, re.ASCII):
        raise ValueError(f"the alteration {text[:10]!r}")
    return round(float(text))


def _said(harmony: Harmony) -> str:
    """The symbol as the score prints it, or nothing."""
    bass = f"/{harmony.bass}" if harmony.bass is not None else ""
    text = f"{harmony.root}{harmony.text}{bass}"
    return "" if _UNTYPED.search(text) else text


def _means(text: str, chord: Chord) -> bool:
    try:
        return chord_of(text) == chord
    except ChordError:
        return False


def harmony_elements(measure: Element, text: str, offset: int) -> None:
    """Write a symbol as a ``<harmony>``; ``offset`` is in divisions from where it stands."""
    harmonies = kinds.harmonies_of(chord_of(text))
    harmony = SubElement(measure, "harmony")
    if len(harmonies) > 1:
        harmony.set("arrangement", "vertical")
    _write(harmony, harmonies, _tail(text) if len(harmonies) == 1 else None)
    if offset:
        SubElement(harmony, "offset").text = str(offset)


def _write(element: Element, harmonies: Sequence[Harmony], tail: str | None) -> None:
    for harmony in harmonies:
        root = SubElement(element, "root")
        _write_name(root, "root", harmony.root or Name(0))
        if harmony.root is None:  # N.C.: the schema wants a root, the page shows none
            root[0].set("text", "")
        text = harmony.text if tail is None or harmony.root is None else tail
        SubElement(element, "kind", text=text).text = harmony.kind
        if harmony.bass is not None:
            _write_name(SubElement(element, "bass"), "bass", harmony.bass)
        for edit in harmony.degrees:  # the text of the kind says them already
            degree = SubElement(element, "degree", {"print-object": "no"})
            SubElement(degree, "degree-value").text = str(edit.value)
            SubElement(degree, "degree-alter").text = str(edit.alter)
            SubElement(degree, "degree-type").text = edit.edit


def _write_name(parent: Element, tag: str, name: Name) -> None:
    SubElement(parent, f"{tag}-step").text = name.letter
    if name.alter:
        SubElement(parent, f"{tag}-alter").text = str(name.alter)


def _tail(text: str) -> str:
    """A symbol without its root and bass, as the text of its kind."""
    return _BASS.sub("", _ROOT.sub("", text))
