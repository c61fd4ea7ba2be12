"""Which scales fit, and what to handle with care."""

import csv
from importlib.resources import files

import pytest

from changewright.theory.fitting import care_notes, chords_for, clashes, scales_for
from changewright.theory.pitch import Name
from changewright.theory.quality import qualities
from changewright.theory.scale import Scale, scale_kind, scale_kinds
from changewright.theory.symbols import read_symbol, write_symbol

TABLE = list(
    csv.DictReader(
        files("changewright.theory")
        .joinpath("tables/chord_scales.tsv")
        .read_text("utf-8")
        .splitlines(),
        delimiter="\t",
    )
)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row["id"])
def test_semitone_rule_as_in_the_chord_scale_table(row: dict[str, str]) -> None:
    """Source: the chord-scale table's own column, worked out from the degrees by others."""
    root = Name.parse(row["root"])
    found = clashes(scale_kind(row["first_choice"]).on(root), qualities()[row["chord"]].on(root))
    wanted = [] if row["auto_semitone_rule"] == "-" else row["auto_semitone_rule"].split()
    assert [str(c.degree) for c in found] == wanted


# Source: domain reference 3.1 and its table: b9 and b13 colour a dominant; 3 against a sus 4.
@pytest.mark.parametrize(
    ("scale", "chord", "wanted"),
    [
        ("ionian", "Cmaj7", "4"),
        ("lydian", "Cmaj7", ""),
        ("mixolydian", "C7", "4"),
        ("mixo_b9b13", "C7", "4"),
        ("altered", "C7(#9)", ""),
        ("phrygian", "Cm7", "b2 b6"),
        ("locrian", "Cm7(b5)", "b2"),
        ("mixolydian", "C9sus4", "3"),
        ("dorian", "Cm7", ""),
        ("aeolian", "Cm7", "b6"),
        ("lydian_aug", "Cmaj7(#5)", "6"),
        ("half_whole", "C13(b9)", ""),
    ],
)
def test_notes_to_handle_with_care(scale: str, chord: str, wanted: str) -> None:
    found = care_notes(scale_kind(scale).on(Name(0)), read_symbol(chord))
    assert " ".join(str(c.degree) for c in found) == wanted


def test_care_says_why_in_words() -> None:
    locrian = scale_kind("locrian").on(Name(5))
    (care,) = care_notes(locrian, read_symbol("Bm7b5"))
    assert care.reason == "the b2 is a semitone over the root: pass through it, do not rest on it"
    (care,) = care_notes(scale_kind("mixolydian").on(Name(1)), read_symbol("G7sus4"))
    assert (str(care.degree), str(care.against)) == ("3", "4")


def test_degrees_count_from_the_chord_s_root() -> None:
    found = care_notes(scale_kind("ionian").on(Name(0)), read_symbol("Em7"))
    assert [str(c.degree) for c in found] == ["b6", "b2"]


@pytest.mark.parametrize(
    ("chord", "first"),
    [
        ("Cmaj7", "lydian"),
        ("C7", "lydian_dom"),
        ("C7alt", "altered"),
        ("C13(b9)", "half_whole"),
        ("C7(#5)", "whole_tone"),
        ("Cm7", "dorian"),
        ("Cm6", "melodic_minor"),
        ("Cm7(b5)", "locrian_n2"),
        ("C°7", "whole_half"),
        ("C7sus4(b9)", "dorian_b2"),
        ("Cmaj7(#5)", "augmented"),
        ("C7(b9)", "half_whole"),
        ("D|C7", "lydian_dom"),
    ],
)
def test_best_fit(chord: str, first: str) -> None:
    fits = scales_for(read_symbol(chord))
    assert fits[0].scale == Scale(Name(0), scale_kind(first))
    assert fits[-1].scale.pcs >= read_symbol(chord).pcs


def test_a_scale_that_calls_the_third_a_flat_fourth_comes_last() -> None:
    ids = [fit.scale.kind.id for fit in scales_for(read_symbol("C7"))]
    assert ids.index("phrygian_b4") > ids.index("mixolydian")


def test_every_named_quality_has_a_scale_and_every_scale_a_chord() -> None:
    for quality in qualities().values():
        assert scales_for(quality.on(Name(0)))[0].scale.kind.id != "chromatic", quality.id
    for kind in scale_kinds().values():
        assert chords_for(kind.on(Name(0)), on_every_note=True), kind.id


def test_the_harmony_of_a_scale() -> None:
    found = [write_symbol(f.chord) for f in chords_for(Scale.parse("C ionian"), on_every_note=True)]
    for symbol in ["Cmaj7", "Dm7", "Em7", "Fmaj7", "G7", "Am7", "Bm7(b5)"]:
        assert symbol in found
    assert "C7" not in found
    assert found.index("Cmaj7") < found.index("Dm7") < found.index("Bm7(b5)")


def test_no_chord_has_no_scale() -> None:
    assert scales_for(read_symbol("N.C.")) == ()
