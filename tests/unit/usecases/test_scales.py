import pytest

from changewright.errors import ChordError, InputError, UnknownName
from changewright.usecases.scales import chords_document, scales_document


def test_the_scales_of_a_dominant_flat_nine() -> None:
    """Source: domain reference 3.1: half-whole, and the fifth modes of the harmonic scales."""
    found = scales_document("C7(b9)")
    assert found["chord"] == "C7(b9)"
    ids = [one["id"] for one in found["scales"]]
    assert ids[0] == "half_whole"
    assert {"mixo_b9", "mixo_b9b13"} <= set(ids)
    assert "ionian" not in ids


def test_every_scale_holds_the_chord_and_says_what_it_adds() -> None:
    found = scales_document("Dm7")
    dorian = next(one for one in found["scales"] if one["id"] == "dorian")
    assert dorian["tones"] == ["D", "E", "F", "G", "A", "B", "C"]
    assert dorian["adds"] == ["2", "4", "6"]
    assert dorian["family"] == "2nd mode of major"
    assert dorian["care"] == []


def test_care_has_its_reason() -> None:
    found = scales_document("Cmaj7")
    ionian = next(one for one in found["scales"] if one["id"] == "ionian")
    (care,) = ionian["care"]
    assert (care["degree"], care["against"]) == ("4", "3")
    assert "do not rest on it" in care["reason"]


def test_the_chords_of_a_scale() -> None:
    found = chords_document("F mixolydian")
    assert found["tones"] == ["F", "G", "A", "Bb", "C", "D", "Eb"]
    chords = [one["chord"] for one in found["chords"]]
    assert {"F7", "F9", "F13", "F7sus4"} <= set(chords)
    assert "Fmaj7" not in chords


def test_the_chords_on_every_note_are_the_scales_own_harmony() -> None:
    """Source: common practice: I to VII of a major key as seventh chords."""
    chords = {
        one["chord"] for one in chords_document("C major scale", on_every_note=True)["chords"]
    }
    assert {"Cmaj7", "Dm7", "Em7", "Fmaj7", "G7", "Am7", "Bm7(b5)"} <= chords


def test_what_is_no_chord_or_scale_is_refused() -> None:
    with pytest.raises(InputError, match="no chord"):
        scales_document("N.C.")
    with pytest.raises(ChordError):
        scales_document("Fmajj7")
    with pytest.raises(UnknownName):
        chords_document("F mixo")
    with pytest.raises(InputError, match="F mixolydian"):
        chords_document("Q mixolydian")
