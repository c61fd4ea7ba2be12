"""Chord symbols: how many of those in the wild are read and right, and how fast.

The list of spellings with pitch classes and counts (open corpora of lead sheets and solo
transcriptions) is read where it is present; without it only speed is measured. Its pitch classes
are strict, so conventions of reading are accepted: see :func:`is_right`.
"""

import csv
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from benchmarks.figure import Figure, paired_ms
from changewright.errors import ChordError
from changewright.theory.chord import Chord
from changewright.theory.pitch import Name
from changewright.theory.quality import qualities
from changewright.theory.symbols import read_symbol, write_symbol

__all__ = ["LIST", "Score", "Spelling", "figures", "is_right", "score", "spellings"]

LIST = Path(__file__).parents[2] / "shared" / "data" / "chords_dev.tsv"
ALTERED_SHELL = frozenset({0, 4, 10})
ROOTS = ("C", "F", "Bb", "Eb", "Ab", "G", "D", "A", "F#")


@dataclass(frozen=True, slots=True)
class Spelling:
    """A spelling in the wild: pitch classes and bass counted from the root, and how often."""

    text: str
    pcs: frozenset[int]
    bass: int | None
    count: int


@dataclass(frozen=True, slots=True)
class Score:
    """Shares of events, weighted by count, that are read and that are read right."""

    read: float
    right: float
    wrong: tuple[str, ...]


def spellings(column: str, path: Path = LIST) -> list[Spelling]:
    """One column of the list, ``text`` or ``native``, without the rows in another syntax."""
    rows = csv.DictReader(path.read_text("utf-8").splitlines(), delimiter="\t")
    return [
        Spelling(
            row[column],
            frozenset(map(int, row["pcs"].split())),
            int(float(row["bass"])) if row["bass"] else None,
            int(row["count"]),
        )
        for row in rows
        if not row["source"].endswith("_harte")
    ]


def is_right(spelling: Spelling, chord: Chord) -> bool:
    """Tell whether a chord sounds as the list says, by the conventions of players.

    Any altered set stands for alt; an 11 in a 13 chord may be there or not; an 11 chord may have
    its third or not. Source: common practice.
    """
    if chord.root is None:
        return not spelling.pcs
    bass = None if chord.bass is None else (chord.bass.pc - chord.root.pc) % 12
    found = frozenset(d.pc for d in chord.degrees)
    if bass != spelling.bass:
        return False
    if spelling.pcs == ALTERED_SHELL:
        return found >= ALTERED_SHELL
    optional = {5} if "13" in spelling.text else {4} if "11" in spelling.text else set()
    return found | optional == spelling.pcs | optional


def score(listed: Iterable[Spelling], read: Callable[[str], Chord] = read_symbol) -> Score:
    """Read every spelling and weigh by events."""
    total = understood = right = 0
    wrong = []
    for spelling in listed:
        total += spelling.count
        try:
            chord = read(spelling.text)
        except ChordError:
            wrong.append(spelling.text)
            continue
        understood += spelling.count
        if is_right(spelling, chord):
            right += spelling.count
        else:
            wrong.append(spelling.text)
    return Score(100 * understood / total, 100 * right / total, tuple(wrong))


def figures() -> Iterator[Figure]:
    """Coverage and correctness by column, and readings in a second beside music21 and mingus."""
    if LIST.exists():
        yield from _list_figures()
    yield _beside_music21()
    yield _beside_mingus()


def _list_figures() -> Iterator[Figure]:
    for column in ("text", "native"):
        listed = spellings(column)
        ours = score(listed)
        theirs = _mingus_score(listed)
        yield Figure(f"symbols.{column}.read", ours.read, "%", "mingus", theirs.read)
        yield Figure(f"symbols.{column}.right", ours.right, "%", "mingus", theirs.right)


def _mingus_score(listed: list[Spelling]) -> Score:
    """The same list through mingus, whose shorthands have no bass: it need not hear one."""
    import mingus.core.chords as mingus_chords

    understood = right = 0
    for spelling in listed:
        try:
            tones = mingus_chords.from_shorthand(spelling.text)
            pcs = [Name.parse(tone).pc for tone in tones]
        except Exception:
            continue
        understood += spelling.count
        root = Name.parse(spelling.text[: 1 + (spelling.text[1:2] in ("b", "#"))])
        found = frozenset((pc - root.pc) % 12 for pc in pcs)
        optional = {5} if "13" in spelling.text else set()
        if spelling.bass is not None:
            optional.add(spelling.bass)
        right += spelling.count * (found | optional == spelling.pcs | optional)
    total = sum(s.count for s in listed)
    return Score(100 * understood / total, 100 * right / total, ())


def _symbols() -> list[str]:
    chords = (q.on(Name.parse(root)) for q in qualities().values() for root in ROOTS)
    return [write_symbol(chord) for chord in chords]


def _readable(symbols: Iterable[str], read: Callable[[str], object]) -> list[str]:
    found = []
    for symbol in symbols:
        try:
            read(symbol)
        except Exception:
            continue
        found.append(symbol)
    return found


def _beside_music21() -> Figure:
    from music21.harmony import ChordSymbol

    def theirs(symbol: str) -> object:
        flat = symbol[1:2] == "b"
        return ChordSymbol(f"{symbol[0]}-{symbol[2:]}" if flat else symbol).pitches

    return _speed("music21", theirs)


def _beside_mingus() -> Figure:
    import mingus.core.chords as mingus_chords

    return _speed("mingus", mingus_chords.from_shorthand)


def _speed(peer: str, theirs: Callable[[str], object]) -> Figure:
    """Symbols in a second, ours without its cache, on what both can read."""
    both = _readable(_symbols(), theirs)
    ours = read_symbol.__wrapped__
    mine_ms, peer_ms = paired_ms(
        lambda: [ours(symbol).pcs for symbol in both], lambda: [theirs(symbol) for symbol in both]
    )
    per_second = 1000 * len(both)
    return Figure(
        f"symbols.per_second.{peer}", per_second / mine_ms, "/s", peer, per_second / peer_ms
    )
