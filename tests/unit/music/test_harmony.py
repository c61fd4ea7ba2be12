import csv
from pathlib import Path

import pytest

from changewright.music.harmony import kind_of
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree
from changewright.theory.symbols import read_symbol

PUBLISHED = Path(__file__).parents[4] / "shared" / "data" / "musicxml40_kinds.tsv"
"""Semitones of each kind, from the text of the W3C MusicXML 4.0 schema."""


def kinds() -> dict[str, set[int]]:
    if not PUBLISHED.exists():
        pytest.skip("the published kinds are not at hand")
    with PUBLISHED.open(encoding="utf-8") as rows:
        table = csv.DictReader(rows, delimiter="\t")
        return {
            r["kind"]: {int(s) % 12 for s in r["semitones_from_root"].split()}
            for r in table
            if r["semitones_from_root"].replace(" ", "").isdigit()
        }


def nearness(natural: int):
    return lambda semitones: abs(semitones - natural)


def sounding(symbol: str, semitones: dict[str, set[int]]) -> set[int]:
    """What a reader of the schema would sound for our kind and degrees, root as 0."""
    kind = kind_of(read_symbol(symbol))
    tones = {Degree(n).pc: Degree(n).pc for n in range(1, 14)}
    found = set(semitones[kind.name])
    for change in kind.changes:
        natural = tones[Degree(change.number).pc]
        present = min(
            (s for s in found if abs(s - natural) <= 2), key=nearness(natural), default=None
        )
        if change.how == "add":
            base = natural - 1 if change.number == 7 else natural
            found.add((base + change.alter) % 12)
        elif change.how == "alter":
            assert present is not None
            found = found - {present} | {(present + change.alter) % 12}
        else:
            assert present is not None
            found.discard(present)
    return found


SYMBOLS = [
    "C",
    "Cm",
    "C+",
    "Cdim",
    "C5",
    "Csus4",
    "Csus2",
    "C(add9)",
    "Cm(add9)",
    "C6",
    "C6/9",
    "Cmaj7",
    "Cmaj9",
    "Cmaj13",
    "Cmaj7(#11)",
    "Cmaj7(#5)",
    "Cmaj7(b5)",
    "C7",
    "C9",
    "C13",
    "C11",
    "C7sus4",
    "C9sus4",
    "C13sus4",
    "C7(b9)",
    "C7(#9)",
    "C7(b13)",
    "C7(b5)",
    "C7(#5)",
    "C9(#5)",
    "C7(#5,#9)",
    "C7(b9,b13)",
    "C13(b9)",
    "Cm6",
    "Cm6/9",
    "Cm7",
    "Cm9",
    "Cm11",
    "Cm13",
    "Cm(maj7)",
    "Cm(maj9)",
    "Cm(b6)",
    "Cm7(b5)",
    "Cm9(b5)",
    "Cm11(b5)",
    "C°7",
    "C°(maj7)",
    "Cm7(#5)",
]


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_kind_and_degrees_sound_what_the_symbol_means(symbol):
    chord = read_symbol(symbol)
    assert sounding(symbol, kinds()) == {d.pc for d in chord.degrees}


@pytest.mark.parametrize(
    ("symbol", "kind"),
    [
        ("C7", "dominant"),
        ("Cm7(b5)", "half-diminished"),
        ("Cm(maj7)", "major-minor"),
        ("C6", "major-sixth"),
        ("C°7", "diminished-seventh"),
        ("C9", "dominant-ninth"),
        ("Csus4", "suspended-fourth"),
    ],
)
def test_common_symbols_have_the_schema_s_own_kind(symbol, kind):
    found = kind_of(read_symbol(symbol))
    assert found.name == kind
    assert not found.changes


def test_no_chord_is_none():
    assert kind_of(Chord(None, ())).name == "none"
