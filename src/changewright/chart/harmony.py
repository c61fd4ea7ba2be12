"""Chord symbols in MusicXML's words: ``<harmony>`` elements in and out."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from xml.etree.ElementTree import Element, SubElement

from changewright.chart.written import chord_of
from changewright.chart.xml_door import Node
from changewright.errors import ChordError
from changewright.theory.chord import NO_CHORD, Chord
from changewright.theory.pitch import Degree, Interval, Name
from changewright.theory.symbols import write_symbol

__all__ = ["Edit", "harmony_elements", "harmony_symbol", "kind_of"]

_TRIADS = {
    "major": "1 3 5",
    "minor": "1 b3 5",
    "augmented": "1 3 #5",
    "diminished": "1 b3 b5",
    "dominant": "1 3 5 b7",
    "major-seventh": "1 3 5 7",
    "minor-seventh": "1 b3 5 b7",
    "diminished-seventh": "1 b3 b5 bb7",
    "augmented-seventh": "1 3 #5 b7",
    "half-diminished": "1 b3 b5 b7",
    "major-minor": "1 b3 5 7",
    "major-sixth": "1 3 5 6",
    "minor-sixth": "1 b3 5 6",
    "dominant-ninth": "1 3 5 b7 9",
    "major-ninth": "1 3 5 7 9",
    "minor-ninth": "1 b3 5 b7 9",
    "dominant-11th": "1 3 5 b7 9 11",
    "major-11th": "1 3 5 7 9 11",
    "minor-11th": "1 b3 5 b7 9 11",
    "dominant-13th": "1 3 5 b7 9 11 13",
    "major-13th": "1 3 5 7 9 11 13",
    "minor-13th": "1 b3 5 b7 9 11 13",
    "suspended-second": "1 2 5",
    "suspended-fourth": "1 4 5",
    "pedal": "1",
    "power": "1 5",
    "other": "1",
}


@dataclass(frozen=True, slots=True)
class Edit:
    """A ``<degree>``: what to do, to which degree; ``alter`` counts from the major scale."""

    kind: str
    number: int
    alter: int


@lru_cache(maxsize=1)
def _kinds() -> dict[str, tuple[Degree, ...]]:
    return {k: tuple(map(Degree.parse, text.split())) for k, text in _TRIADS.items()}


def kind_of(degrees: tuple[Degree, ...]) -> tuple[str, tuple[Edit, ...]]:
    """The kind that needs the fewest degrees beside it, and those."""
    options = ((kind, _edits(own, degrees)) for kind, own in _kinds().items() if kind != "other")
    return min(options, key=lambda option: len(option[1]))


def _edits(own: tuple[Degree, ...], wanted: tuple[Degree, ...]) -> tuple[Edit, ...]:
    gone = [d for d in own if d not in wanted]
    new = [d for d in wanted if d not in own]
    edits = []
    for degree in gone:
        moved = next((d for d in new if d.number == degree.number), None)
        if moved is not None:
            new.remove(moved)
            edits.append(Edit("alter", degree.number, moved.alter - degree.alter))
        else:
            edits.append(Edit("subtract", degree.number, degree.alter))
    return (*edits, *(Edit("add", d.number, d.alter) for d in new))


def _degrees(kind: str, edits: list[Edit]) -> tuple[Degree, ...]:
    if kind not in _kinds():
        raise ValueError(f"the kind {kind[:40]!r}")
    found = list(_kinds()[kind])
    for edit in edits:
        own = next((d for d in found if d.number == edit.number), None)
        if edit.kind == "add":
            found.append(Degree(edit.number, edit.alter))
        elif own is not None:
            found.remove(own)
        if edit.kind == "alter":
            found.append(Degree(edit.number, (own.alter if own else 0) + edit.alter))
    return tuple(sorted(set(found), key=lambda d: (d.number, d.alter)))


def harmony_symbol(node: Node, to_concert: Interval) -> str:
    """Read a ``<harmony>`` as a chord symbol at concert pitch, in the score's own spelling where
    that says the same. Raises ValueError for what can't be read."""
    chords = list(_chords(node))
    if not chords:
        raise ValueError("it has no root")
    chord, text = chords[-1]
    if len(chords) > 1:  # several roots in one element: stacked, the upper first
        upper = chords[0][0]
        chord, text = Chord(chord.root, chord.degrees, chord.bass, upper), ""
    if to_concert.fifths:
        return write_symbol(chord.transpose(to_concert))
    return text if text and _says(text, chord) else write_symbol(chord)


def _chords(node: Node) -> Iterator[tuple[Chord, str]]:
    starts = [i for i, c in enumerate(node.children) if c.tag in ("root", "numeral", "function")]
    for start, stop in zip(starts, [*starts[1:], len(node.children)], strict=True):
        part = Node("harmony", {}, node.line, node.children[start:stop])
        if part.find("root") is None:
            raise ValueError("it has a number and no root")
        yield _one(part)


def _one(part: Node) -> tuple[Chord, str]:
    kind = part.find("kind") or Node("kind", {}, part.line, text="major")
    if kind.text.strip() == "none":
        return NO_CHORD, ""
    root = _name(part, "root")
    bass = _name(part, "bass") if part.find("bass") is not None else None
    text = f"{root}{kind.get('text')}" + (f"/{bass}" if bass else "")
    text = "" if re.search(r"[\s<>:\\%|]", text) else text
    if kind.text.strip() == "other" and text:
        try:
            return chord_of(text), text
        except ChordError:
            pass
    degrees = _degrees(kind.text.strip(), [_edit(degree) for degree in part.all("degree")])
    return Chord(root, degrees, bass), text


def _edit(node: Node) -> Edit:
    value, alter = node.said("degree-value"), node.said("degree-alter") or "0"
    kind = node.said("degree-type")
    if not re.fullmatch(r"1?\d", value) or not re.fullmatch(r"[+-]?[0-2](\.0+)?", alter):
        raise ValueError(f"the degree {value[:10]!r}")
    return Edit(kind, int(value), round(float(alter)))


def _name(part: Node, tag: str) -> Name:
    letter, alter = part.said(tag, f"{tag}-step"), part.said(tag, f"{tag}-alter") or "0"
    if not re.fullmatch("[A-G]", letter) or not re.fullmatch(r"[+-]?[0-2](\.0+)?", alter):
        raise ValueError(f"the {tag} {letter[:5]!r}")
    return Name(Name.parse(letter).fifths + 7 * round(float(alter)))


def _says(text: str, chord: Chord) -> bool:
    try:
        return chord_of(text) == chord
    except ChordError:
        return False


def harmony_elements(measure: Element, text: str, offset: int) -> None:
    """Write a symbol as a ``<harmony>``; ``offset`` is in divisions from where it stands."""
    chord = chord_of(text)
    harmony = SubElement(measure, "harmony")
    if chord.upper is not None:
        harmony.set("arrangement", "vertical")
        _write_chord(harmony, chord.upper, None)
    bare = None if chord.upper is not None else _bare(text)
    _write_chord(harmony, Chord(chord.root, chord.degrees, chord.bass), bare)
    if offset:
        SubElement(harmony, "offset").text = str(offset)


def _write_chord(harmony: Element, chord: Chord, text: str | None) -> None:
    _write_name(SubElement(harmony, "root"), "root", chord.root or Name(0))
    if chord.root is None:
        SubElement(harmony, "kind", text="N.C.").text = "none"
        return
    kind, edits = kind_of(chord.degrees)
    SubElement(harmony, "kind", {} if text is None else {"text": text}).text = kind
    if chord.bass is not None:
        _write_name(SubElement(harmony, "bass"), "bass", chord.bass)
    for edit in edits:
        degree = SubElement(harmony, "degree", {"print-object": "no"})
        SubElement(degree, "degree-value").text = str(edit.number)
        SubElement(degree, "degree-alter").text = str(edit.alter)
        SubElement(degree, "degree-type").text = edit.kind


def _write_name(parent: Element, tag: str, name: Name) -> None:
    SubElement(parent, f"{tag}-step").text = name.letter
    if name.alter:
        SubElement(parent, f"{tag}-alter").text = str(name.alter)


def _bare(text: str) -> str:
    """A symbol without its root and bass, as it stands in the text of a kind."""
    tail = re.sub(r"^\(?[A-G](?:bb|##|[b♭#♯x])?", "", text)
    return re.sub(r"/[A-G](?:bb|##|[b♭#♯x])?\)?$", "", tail)
