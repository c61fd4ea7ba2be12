"""Chords as MusicXML says them, beside the schema's own table of kinds.

Source: W3C MusicXML 4.0, kind-value and degree.
"""

import csv
from pathlib import Path

import pytest

from changewright.errors import ChordError
from changewright.theory.chord import NO_CHORD
from changewright.theory.kinds import KINDS, Harmony, HarmonyDegree, chord_of, harmonies_of
from changewright.theory.pitch import Name
from changewright.theory.quality import qualities
from changewright.theory.symbols import read_symbol, write_symbol

HERE = Path(__file__).parent
LINES = HERE.joinpath("musicxml40_kinds.tsv").read_text("utf-8").splitlines()
SCHEMA = {
    row["kind"]: row["semitones_from_root"]
    for row in csv.DictReader((x for x in LINES if not x.startswith("#")), delimiter="\t")
}
C = Name(0)


def test_we_know_the_33_kinds_of_the_schema() -> None:
    assert len(SCHEMA) == 33
    assert set(KINDS) == set(SCHEMA)


@pytest.mark.parametrize("kind", [k for k, v in SCHEMA.items() if not v.startswith("(")])
def test_kinds_have_the_schema_s_intervals(kind: str) -> None:
    assert sorted({d.pc for d in KINDS[kind]}) == [int(s) for s in SCHEMA[kind].split()]


# Kind and degrees (edit value alter, h for hidden) of every quality players name. Source: the
# schema's rules; checked pitch class by pitch class in test_strictly_read_degrees_say_the_chord.
SAID = """
C | major |
Cm | minor |
C+ | augmented |
Cdim | diminished |
C5 | power |
Csus4 | suspended-fourth |
Csus2 | suspended-second |
C(add9) | major | add 9 0
Cm(add9) | minor | add 9 0
C6 | major-sixth |
C6/9 | major-sixth | add 9 0
Cmaj7 | major-seventh |
Cmaj9 | major-ninth |
Cmaj13 | major-13th | subtract 11 0 h
Cmaj7(#11) | major-seventh | add 11 1
Cmaj7(#5) | major-seventh | alter 5 1
Cmaj7(b5) | major-seventh | alter 5 -1
C7 | dominant |
C9 | dominant-ninth |
C13 | dominant-13th | subtract 11 0 h
C11 | dominant-11th | subtract 3 0 h
C7sus4 | suspended-fourth | add 7 0
C9sus4 | suspended-fourth | add 7 0; add 9 0
C13sus4 | suspended-fourth | add 7 0; add 9 0; add 13 0
C7sus4(b9) | suspended-fourth | add 7 0; add 9 -1
C7(b9) | dominant | add 9 -1
C7(#9) | dominant | add 9 1
C7(#11) | dominant | add 11 1
C7(b13) | dominant | add 13 -1
C7(b5) | dominant | alter 5 -1
C7(#5) | augmented-seventh |
C9(#5) | augmented-seventh | add 9 0
C7(#5,#9) | augmented-seventh | add 9 1
C7(b9,b13) | dominant | add 9 -1; add 13 -1
C13(b9) | dominant | add 9 -1; add 13 0
C13(#11) | dominant-13th | subtract 11 0 h; add 11 1
C7alt | dominant | subtract 5 0 h; add 9 -1 h; add 9 1 h; add 11 1 h; add 13 -1 h
Cm6 | minor-sixth |
Cm6/9 | minor-sixth | add 9 0
Cm7 | minor-seventh |
Cm9 | minor-ninth |
Cm11 | minor-11th |
Cm13 | minor-13th |
Cm(maj7) | major-minor |
Cm(maj9) | major-minor | add 9 0
Cm(b6) | minor | add 6 -1
Cm7(b5) | half-diminished |
Cm9(b5) | half-diminished | add 9 0
Cm11(b5) | half-diminished | add 11 0
C°7 | diminished-seventh |
C°(maj7) | diminished | add 7 1
Cm7(#5) | minor-seventh | alter 5 1
"""
ROWS = [
    tuple(part.strip() for part in line.split("|")) for line in SAID.splitlines() if line.strip()
]


def in_words(degree: HarmonyDegree) -> str:
    return f"{degree.edit} {degree.value} {degree.alter}{' h' if degree.hidden else ''}"


@pytest.mark.parametrize(("symbol", "kind", "degrees"), ROWS, ids=[row[0] for row in ROWS])
def test_kind_and_degrees(symbol: str, kind: str, degrees: str) -> None:
    (said,) = harmonies_of(read_symbol(symbol))
    assert said.kind == kind
    assert "; ".join(map(in_words, said.degrees)) == degrees
    assert f"C{said.text}" == symbol


@pytest.mark.parametrize("symbol", [row[0] for row in ROWS])
def test_strictly_read_degrees_say_the_chord(symbol: str) -> None:
    """Read by the letter of the schema, by semitones alone, kind and degrees give the chord."""
    (said,) = harmonies_of(read_symbol(symbol))
    dominant = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 14, 11: 17, 13: 21}
    base = {d.number: d.interval.semitones for d in KINDS[said.kind]}
    sounding = [base]
    for edit in said.degrees:
        if edit.edit == "subtract":
            base.pop(edit.value)
        elif edit.edit == "alter":
            base[edit.value] += edit.alter
        else:
            sounding.append({edit.value: dominant[edit.value] + edit.alter})
    pcs = {semitones % 12 for part in sounding for semitones in part.values()}
    assert pcs == read_symbol(symbol).pcs


def test_every_named_quality_is_in_the_table() -> None:
    assert {write_symbol(q.on(C)) for q in qualities().values()} <= {row[0] for row in ROWS}


def test_polychord_bass_and_no_chord() -> None:
    upper, lower = harmonies_of(read_symbol("D|C7"))
    assert (upper.root, upper.kind) == (Name.parse("D"), "major")
    assert (lower.root, lower.kind) == (C, "dominant")
    assert harmonies_of(read_symbol("C/E"))[0].bass == Name.parse("E")
    assert harmonies_of(NO_CHORD) == (Harmony(None, "none", "N.C."),)
    assert chord_of([Harmony(None, "none")]) == NO_CHORD


# What other programs write. Source: common practice, no source.
@pytest.mark.parametrize(
    ("kind", "text", "meant"),
    [
        ("dominant", "7alt", "C7alt"),
        ("dominant", "7", "C7"),
        ("dominant", "", "C7"),
        ("suspended-fourth", "7sus4", "C7sus4"),
        ("major-seventh", "7", "Cmaj7"),
        ("dominant-13th", "13", "C13"),
        ("dominant-11th", "11", "C11"),
        ("minor", "rubbish", "Cm"),
        ("other", "m7b5", "Cm7(b5)"),
        ("invented", "maj9", "Cmaj9"),
        ("German", "", "C7"),
        ("Tristan", "", "Cm7(b5)"),
        ("pedal", "", "C(no3,no5)"),
        ("minor-13th", "", "Cm13"),
    ],
)
def test_text_is_believed_where_it_says_more(kind: str, text: str, meant: str) -> None:
    assert chord_of([Harmony(C, kind, text)]) == read_symbol(meant)


def test_altering_what_is_not_there_adds_it() -> None:
    flat_nine = HarmonyDegree("alter", 9, -1)
    assert chord_of([Harmony(C, "dominant", "", (flat_nine,))]) == read_symbol("C7(b9)")


def test_unknown_kind_without_a_text_is_an_error() -> None:
    with pytest.raises(ChordError, match="kind 'invented'"):
        chord_of([Harmony(C, "invented", "?")])
    with pytest.raises(ChordError, match="one or two"):
        chord_of([])
