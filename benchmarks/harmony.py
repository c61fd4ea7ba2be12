"""Agreement with annotated sequences, ours and that of two naive readers on the same input.

The gold gives each chord a local tonic and a function (T, D, S, C, P); local tonic and function
must both be right. Source: Granroth-Wilding and Steedman's annotated jazz corpus; the data is
development test data that isn't shipped: give its path, or put it where the default looks. Beside
it stand progressions of our own from common practice, in ``common_practice.txt``.
"""

import csv
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from pathlib import Path

from changewright.chart.model import Form, form_of
from changewright.reading.analyse import analyse
from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.symbols import read_symbol

__all__ = [
    "DEFAULT",
    "Agreement",
    "Answer",
    "Reader",
    "Sequence",
    "agreement",
    "by_degree",
    "by_resolution",
    "common_practice",
    "ours",
    "sequences",
]

DEFAULT = Path(__file__).resolve().parents[2] / "shared" / "data" / "harmony_dev.tsv"
_PRACTICE = Path(__file__).with_name("common_practice.txt")
_SPELLINGS = {
    "%7": "m7(b5)", "o7": "°7", "aug7": "7(#5)", "b5,7": "7(b5)", "sus4,7": "7sus4",
    "M7": "maj7", "m,M7": "m(maj7)",
}  # fmt: skip
# Source: Krumhansl, Cognitive Foundations of Musical Pitch (1990), probe tones; from memory.
_MAJOR = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
_MINOR = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)

Answer = tuple[int, str]
"""A local tonic as a pitch class, and a function."""
Reader = Callable[["Sequence", bool], tuple[int, list[Answer]]]
"""Reads a sequence, with its key given or not: the global tonic, and an answer for each chord."""


@dataclass(frozen=True)
class Sequence:
    """One annotated tune; an answer of None is left open.

    ``part`` is ``practice`` for our own progressions; of the corpus, even numbers are ``dev`` and
    odd ones ``test``.
    """

    name: str
    key: Key
    chords: tuple[tuple[str, Fraction], ...]
    gold: tuple[Answer | None, ...]
    part: str

    @property
    def is_blues(self) -> bool:
        """It opens on I7, and most chords on the tonic are dominant sevenths."""
        home = [s for s, _ in self.chords if s in ("C", "C7", "Cmaj7", "Cm", "Cm7", "C6")]
        return self.chords[0][0] == "C7" and home.count("C7") > len(home) / 2

    def form(self, key_known: bool) -> Form:
        """The tune as a chart from a plain list of symbols."""
        return form_of(self.chords, self.key if key_known else None, title=self.name)

    def onsets(self) -> Iterator[Fraction]:
        """Where each chord of the list begins."""
        at = Fraction(0)
        for _, beats in self.chords:
            yield at
            at += beats


def sequences(path: Path | None = None) -> tuple[Sequence, ...]:
    """All sequences; none where the data isn't at hand."""
    found = path or Path(os.environ.get("CHANGEWRIGHT_HARMONY", DEFAULT))
    if not found.exists():
        return ()
    rows = csv.DictReader(found.read_text("utf-8").splitlines(), delimiter="\t")
    return tuple(_sequence(name, list(own)) for name, own in groupby(rows, lambda row: row["seq"]))


def _sequence(name: str, rows: list[dict[str, str]]) -> Sequence:
    minor = rows[0]["original_key"].endswith("minor")
    return Sequence(
        name,
        Key.parse("Cm" if minor else "C"),
        tuple((_symbol(row["chord_in_C"]), Fraction(row["beats"])) for row in rows),
        tuple((int(row["local_tonic_pc_rel_C"]) % 12, row["function"]) for row in rows),
        "test" if int(name.partition("-")[2]) % 2 else "dev",
    )


def _symbol(text: str) -> str:
    flat = text[1:2] == "b" and text[1:5] != "b5,7"
    root, tail = text[: 1 + flat], text[1 + flat :]
    return root + _SPELLINGS.get(tail, tail)


def common_practice(path: Path = _PRACTICE) -> tuple[Sequence, ...]:
    """Our own progressions, which are in the project; the file's head explains its marks."""
    blocks = path.read_text("utf-8").split("\n[")[1:]
    return tuple(
        _progression(name, "".join(lines.split("\n")))
        for name, _, lines in (block.partition("]") for block in blocks)
    )


def _progression(name: str, text: str) -> Sequence:
    marked: list[tuple[str, str, Fraction]] = []
    for bar in text.split("|"):
        words = [marked[-1][0] + marked[-1][1]] if bar == "%" else bar.split()
        parts = [word.partition("=") for word in words]
        marked += [(symbol, sign + mark, Fraction(4, len(words))) for symbol, sign, mark in parts]
    first = next(read_symbol(symbol) for symbol, mark, _ in marked if mark == "=T")
    return Sequence(
        name,
        Key.parse(f"{first.root}{'m' if first.is_minor else ''}"),
        tuple((symbol, beats) for symbol, _, beats in marked),
        tuple(_answer(marked, i) for i in range(len(marked))),
        "practice",
    )


def _answer(marked: list[tuple[str, str, Fraction]], i: int) -> Answer | None:
    function, _, tonic = marked[i][1].removeprefix("=").partition("@")
    if function == "?":
        return None
    if tonic:
        return Key.parse(tonic).tonic.pc, function
    homes = [k for k, (_, mark, _) in enumerate(marked) if mark == "=T"]
    if not function:
        i = next((k for k in homes if k > i), homes[0])
    elif function != "T":
        i = next((k for k in reversed(homes) if k < i), homes[0])
    return _root(read_symbol(marked[i][0])), function or "D"


# --- readers -------------------------------------------------------------------------------------


def ours(sequence: Sequence, key_known: bool) -> tuple[int, list[Answer]]:
    """The reading of this project, chord by chord of the list."""
    reading = analyse(sequence.form(key_known))
    at = {one.change.onset: one for one in reading.changes}
    answers = [
        (at[onset].local_tonic.tonic.pc, at[onset].function.value) for onset in sequence.onsets()
    ]
    return reading.key.tonic.pc, answers


def by_degree(sequence: Sequence, key_known: bool) -> tuple[int, list[Answer]]:
    """Key profile, then a table of degrees: every chord belongs to the one key."""
    tonic = sequence.key.tonic.pc if key_known else _profile_tonic(sequence)
    return tonic, [(tonic, _of_degree(chord, tonic)) for chord in _chords(sequence)]


def by_resolution(sequence: Sequence, key_known: bool) -> tuple[int, list[Answer]]:
    """Key profile, then chord type and where it resolves: a chain takes the next tonic."""
    tonic = sequence.key.tonic.pc if key_known else _profile_tonic(sequence)
    chords = _chords(sequence)
    answers: list[Answer] = []
    reached = tonic
    for chord, after in zip(reversed(chords), [chords[0], *reversed(chords[1:])], strict=True):
        function = _of_type(chord, after, tonic)
        if function == "T":
            reached = _root(chord)
        answers.append((reached, function))
    return tonic, answers[::-1]


def _chords(sequence: Sequence) -> list[Chord]:
    return [read_symbol(symbol) for symbol, _ in sequence.chords]


def _root(chord: Chord) -> int:
    return chord.root.pc if chord.root is not None else 0


def _of_degree(chord: Chord, tonic: int) -> str:
    degree = (_root(chord) - tonic) % 12
    if degree == 0:
        return "T"
    return "S" if degree == 5 and not chord.is_minor else "D"


def _of_type(chord: Chord, after: Chord, tonic: int) -> str:
    """A minor seventh or a diminished chord leads on; other chords do if they fall a fifth."""
    if _root(chord) == tonic:
        return "T"
    falls = (_root(after) - _root(chord)) % 12 in (5, 11)
    leads = chord.has(7, -1) or chord.is_diminished or (chord.is_minor and falls)
    return "D" if leads else "T"


def _profile_tonic(sequence: Sequence) -> int:
    weights = [0.0] * 12
    for chord, (_, beats) in zip(_chords(sequence), sequence.chords, strict=True):
        for pc in chord.pcs:
            weights[pc] += float(beats)
    scored = (
        (sum(weights[(pc + tonic) % 12] * profile[pc] for pc in range(12)) / sum(profile), tonic)
        for profile in (_MAJOR, _MINOR)
        for tonic in range(12)
    )
    return max(scored)[1]


# --- agreement -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Agreement:
    """Shares of chords that agree with the annotators, and of tunes with the right tonic."""

    chords: int
    tonic: float
    function: float
    both: float
    home: float


def agreement(reader: Reader, tunes: tuple[Sequence, ...], key_known: bool) -> Agreement:
    """Score a reader over some sequences, by chord."""
    right: list[tuple[bool, bool]] = []
    homes = []
    for tune in tunes:
        home, answers = reader(tune, key_known)
        homes.append(home == tune.key.tonic.pc)
        pairs = [(a, gold) for a, gold in zip(answers, tune.gold, strict=True) if gold is not None]
        right += [(ours[0] == gold[0], ours[1] == gold[1]) for ours, gold in pairs]
    count = len(right)
    return Agreement(
        count,
        sum(tonic for tonic, _ in right) / count,
        sum(function for _, function in right) / count,
        sum(tonic and function for tonic, function in right) / count,
        sum(homes) / len(homes),
    )
