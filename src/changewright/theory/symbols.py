"""Read and write chord symbols as working players spell them."""

import csv
import re
from functools import cache
from importlib.resources import files

from changewright.errors import ChordError, Place
from changewright.theory.chord import NO_CHORD, Chord
from changewright.theory.pitch import Degree, Name

__all__ = ["read_symbol", "write_symbol"]

_ROOT = re.compile(r"[A-G][b♭#♯]?")


@cache
def _qualities() -> tuple[dict[str, tuple[Degree, ...]], dict[tuple[Degree, ...], str]]:
    table = files("changewright.theory").joinpath("tables/chords.tsv").read_text("utf-8")
    by_text: dict[str, tuple[Degree, ...]] = {}
    by_meaning: dict[tuple[Degree, ...], str] = {}
    for row in csv.DictReader(table.splitlines(), delimiter="\t"):
        degrees = tuple(
            sorted(
                (Degree.parse(d) for d in row["degrees"].split()), key=lambda d: (d.number, d.alter)
            )
        )
        by_meaning[degrees] = row["print"][1:]
        also = re.findall(r"C[^\s,/]*(?:\([^)]*\))?", row["also_written"])
        for text in (row["print"], *also):
            by_text.setdefault(text[1:], degrees)
    return by_text, by_meaning


def read_symbol(text: str) -> Chord:
    """Read one chord symbol; raises :class:`ChordError` pointing into it."""
    if text.upper().replace(".", "") == "NC":
        return NO_CHORD
    match = _ROOT.match(text)
    if not match:
        raise ChordError(f"can't read the chord {text!r}", where=Place(column=1), source=text)
    root = Name.parse(match[0])
    tail, _, bass = text[match.end() :].partition("/")
    if bass.startswith("9"):
        tail, bass = f"{tail}/{bass}", ""
    by_text, _ = _qualities()
    if tail not in by_text or (bass and not _ROOT.fullmatch(bass)):
        raise ChordError(
            f"can't read the chord {text!r}", where=Place(column=match.end() + 1), source=text
        )
    return Chord(root, by_text[tail], Name.parse(bass) if bass else None)


def write_symbol(chord: Chord) -> str:
    """Write a chord in its canonical plain spelling."""
    if chord.root is None:
        return "N.C."
    _, by_meaning = _qualities()
    bass = f"/{chord.bass}" if chord.bass is not None else ""
    return f"{chord.root}{by_meaning[chord.degrees]}{bass}"
