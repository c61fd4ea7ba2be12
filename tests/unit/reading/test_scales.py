"""Every row of the chord-scale table, reached by a chord in its place and checked by its example.

Source: domain reference 3.1 (the primer chord/scale chart for the scales; functions common
practice), as in ``theory/tables/chord_scales.tsv``.
"""

import csv
import re
from dataclasses import replace
from fractions import Fraction
from importlib.resources import files

import pytest

from changewright.music.line import Line, Note
from changewright.reading.analyse import analyse
from changewright.reading.house import HouseRules
from changewright.reading.model import ReadChange, ScaleChoice
from changewright.theory.pitch import Name, Pitch
from tests.unit.reading.forms import KnownForm, chart, known_forms

TABLE = {
    row["id"]: row
    for row in csv.DictReader(
        files("changewright.theory")
        .joinpath("tables/chord_scales.tsv")
        .read_text("utf-8")
        .splitlines(),
        delimiter="\t",
    )
}

# Row: a chart in which the row's example stands (key given where the chart is too short to tell),
# and which change it is.
PLACES = {
    "T1": ("Dm7|G7|Cmaj7|%", None, 2),
    "T2": ("Cmaj7|Fmaj7|G7|Cmaj7", None, 1),
    "T3": ("Dm7|G7|Cmaj7|%", None, 0),
    "T4": ("Cmaj7|Em7|Am7|Dm7|G7|Cmaj7", None, 1),
    "T5": ("Cmaj7 Am7|Dm7 G7|Cmaj7", None, 1),
    "T6": ("Cmaj7|Bm7(b5)|Cmaj7|G7", "C", 1),
    "T7": ("Dm7(b5)|G7(b9)|Cm6|%", None, 0),
    "T8": ("Dm7(b5)|G7(b9)|Cm6|%", None, 2),
    "T9": ("Cm7|%|Fm7|%|Dm7(b5)|G7(b9)|Cm7|%", None, 0),
    "T10": ("Dm7|G7|Cmaj7(#11)|%", None, 2),
    "T11": ("Dm7|G7|Cmaj7(#5)|%", "C", 2),
    "D1": ("Dm7|G7|Cmaj7|%", None, 1),
    "D2": ("Dm7(b5)|G7|Cm6|%", None, 1),
    "D3": ("Cmaj7|D7|G7|Cmaj7", None, 1),
    "D4": ("Cmaj7|A7|Dm7|G7", None, 1),
    "D5": ("Cmaj7|B7|Em7|A7|Dm7|G7|Cmaj7", None, 1),
    "D6": ("Cmaj7|C7|Fmaj7|G7|Cmaj7|%", None, 1),
    "D7": ("Cmaj7|E7|Am7|D7|Dm7|G7|Cmaj7", None, 1),
    "D8": ("Dm7|Db7|Cmaj7|%", None, 1),
    "D9": ("Cmaj7|Fm7|Bb7|Cmaj7", None, 2),
    "D10": ("F7|%|%|%|Bb7|%|F7|%|C7|Bb7|F7|C7", None, 0),
    "D11": ("F7|%|%|%|Bb7|%|F7|%|C7|Bb7|F7|C7", None, 4),
    "D12": ("F7|%|%|%|Bb7|%|F7|%|C7|Bb7|F7|C7", None, 8),
    "D13": ("Dm7|G9sus4|Cmaj7|%", None, 1),
    "D14": ("Dm7|G7sus4(b9)|Cmaj7|%", None, 1),
    "D15": ("Dm7|G7alt|Cmaj7|%", None, 1),
    "D16": ("Dm7(b5)|G7(b9)|Cm6|%", None, 1),
    "D24": ("Dm7|G7(b9)|Cmaj7|%", None, 1),
    "D17": ("Dm7|G7(#9)|Cmaj7|%", None, 1),
    "D18": ("Dm7|G7(#11)|Cmaj7|%", None, 1),
    "D19": ("Dm7|G7(#5)|Cmaj7|%", None, 1),
    "D20": ("Dm7|G13(b9)|Cmaj7|%", None, 1),
    "D21": ("Cmaj7|D7|Dm7|G7|Cmaj7|%", None, 1),
    "D22": ("Cmaj7|Ab7|G7|Cmaj7", None, 1),
    "D23": ("G7|%|%|%|%|%|%|%", "G", 0),
    "X1": ("Cmaj7 C#°7|Dm7 G7|Cmaj7", None, 1),
    "X2": ("Cmaj7 C#°7|Dm7 D#°7|Em7 A7|Dm7 G7", None, 3),
    "X3": ("Fmaj7|F#°7|C/G|%", "C", 1),
    "X4": ("Em7|Eb°7|Dm7|G7|Cmaj7|%", None, 1),
    "X5": ("Cmaj7|C°7|Cmaj7|G7", None, 1),
    "M1": ("Cmaj7|Fm7|Bb7|Cmaj7", None, 1),
    "M2": ("Cmaj7|Fmaj7|Fm6|Cmaj7", None, 2),
    "M3": ("Cmaj7|Abmaj7|G7|Cmaj7", "C", 1),
    "M4": ("Cmaj7 Ebmaj7|Abmaj7 Dbmaj7|Cmaj7", "C", 1),
    "M5": ("Cmaj7|Bbmaj7|Cmaj7|G7", "C", 1),
    "M6": ("Cmaj7|Dbmaj7|Cmaj7|%", "C", 1),
    "M7": ("Cmaj7|F#m7(b5)|Fm6|Cmaj7", "C", 1),
    "M8": ("Cmaj7|Gm7 C7|Fmaj7|G7|Cmaj7", None, 1),
    "M9": ("Cmaj7 Eb7|Abmaj7 B7|Emaj7 G7|Cmaj7", None, 0),
    "M10": ("Dm11|%|%|%|%|%|%|%", None, 0),
    "M11": ("Cm(b6)|%|Dm7(b5)|G7(b9)", "Cm", 0),
}


def read(rule: str, house: HouseRules | None = None) -> ReadChange:
    text, key, index = PLACES[rule]
    return analyse(chart(text, key), house or HouseRules()).changes[index]


def first(rule: str, house: HouseRules | None = None) -> ScaleChoice:
    return read(rule, house).scales[0]


def test_the_table_and_the_places_hold_the_same_rows() -> None:
    assert set(PLACES) == set(TABLE)


@pytest.mark.parametrize("rule", sorted(TABLE))
def test_row_is_reached_with_its_first_choice(rule: str) -> None:
    choice, row = first(rule), TABLE[rule]
    assert choice.rule == rule
    assert choice.scale.kind.id == row["first_choice"]


@pytest.mark.parametrize("rule", [r for r in sorted(TABLE) if not r.startswith(("D12", "M1"))])
def test_first_choice_has_the_notes_of_the_example(rule: str) -> None:
    choice, row = first(rule), TABLE[rule]
    if str(choice.scale.root) != row["root"]:
        pytest.skip("the example stands on another note")
    assert " ".join(map(str, choice.scale.tones)) == row["first_choice_notes"]


@pytest.mark.parametrize("rule", sorted(TABLE))
def test_reason_is_a_sentence_about_this_very_chord(rule: str) -> None:
    one, choice = read(rule), first(rule)
    assert choice.because.startswith(str(choice.scale).partition(" (")[0] + ": ")
    assert one.change.text in choice.because
    assert "{" not in choice.because


@pytest.mark.parametrize("rule", sorted(TABLE))
def test_care_is_the_tables_but_for_notes_that_the_symbol_asks_for(rule: str) -> None:
    own = read(rule).change.chord.pcs
    choice = first(rule)
    written = [d for d in TABLE[rule]["handle_with_care"].split() if d != "-"]
    kept = [str(d) for d in choice.care]
    assert set(kept) <= set(written)
    dropped = [d for d in written if d not in kept]
    tones = dict(zip(map(str, choice.scale.kind.degrees), choice.scale.tones, strict=True))
    assert all(tones[d].pc in own for d in dropped if d in tones)


def test_reason_of_the_blues_is_the_teachers_own() -> None:
    assert first("D10").because == (
        "F Mixolydian: this F7 is home in the blues; the 4th, Bb, passes but is not held"
    )


def names(choices: tuple[ScaleChoice, ...]) -> list[str]:
    return [f"{c.scale.root} {c.scale.kind.id}" for c in choices]


def test_blues_scale_is_that_of_the_key_on_every_chord() -> None:
    """The blues scale belongs to the key, not to the chord. Source: domain reference C6."""
    assert "F blues" in names(read("D10").scales)
    assert "F blues" in names(read("D11").scales)
    assert "F blues" in names(read("D12").scales)


def test_altered_waits_for_level_five() -> None:
    early = names(read("D1", HouseRules(level=4)).scales)
    late = names(read("D1", HouseRules(level=5)).scales)
    assert "G altered" not in early
    assert "G altered" in late


def test_early_levels_take_the_plain_scale_on_a_tritone_substitute() -> None:
    assert first("D8", HouseRules(level=3)).scale.kind.id == "mixolydian"


@pytest.mark.parametrize(
    ("rule", "house", "scale"),
    [
        ("T1", HouseRules(major_home="lydian"), "lydian"),  # C1
        ("D4", HouseRules(five_of_two="mixo_b13"), "mixo_b13"),  # C2
        ("D4", HouseRules(level=5, five_of_two="altered"), "altered"),  # C2
        ("D1", HouseRules(level=5, altered=True), "altered"),  # C3
        ("T7", HouseRules(level=5), "locrian_n2"),  # C4
        ("T7", HouseRules(level=5, half_diminished="locrian"), "locrian"),  # C4
        ("X1", HouseRules(diminished="whole_half"), "whole_half"),  # C5
        ("D11", HouseRules(blues_four="lydian_dom"), "lydian_dom"),  # C6
        ("T8", HouseRules(minor_home="dorian"), "dorian"),  # C8
    ],
)
def test_house_rules_settle_what_teachers_disagree_on(
    rule: str, house: HouseRules, scale: str
) -> None:
    """Source of the questions: domain reference 3.4."""
    choice = first(rule, house)
    assert choice.scale.kind.id == scale
    assert choice.rule == rule


def test_level_must_be_one_of_eight() -> None:
    with pytest.raises(ValueError, match="1 to 8"):
        HouseRules(level=9)


def test_symbol_wins_over_function() -> None:
    """Written alterations win over everything. Source: domain reference 3.3, rule 1."""
    reading = analyse(chart("Dm7(b5)|G13|Cm6|%"))
    choice = reading.changes[1].scales[0]
    assert {t.pc for t in reading.changes[1].change.chord.tones} <= choice.scale.pcs
    assert "asks for A and E" in choice.because


def test_alternatives_are_ranked_and_give_reasons() -> None:
    for choice in read("D1").scales[1:]:
        assert choice.because.startswith(str(choice.scale).partition(" (")[0])
        assert choice.rule == "D1"
    assert names(read("D13").scales)[1] == "D min_pent"  # D minor pentatonic over Gsus


def test_mixolydian_of_the_next_chord_is_offered_on_the_two_of_four() -> None:
    assert "C mixolydian" in names(read("M8").scales)


_NOTE = re.compile(r"\b[A-G][b#]{0,2}(?=[ ,;]|$)")


@pytest.mark.parametrize("known", list(known_forms()), ids=lambda known: known.name)
def test_reasons_tell_the_truth(known: KnownForm) -> None:
    changes = analyse(known.form).changes
    for one, after in zip(changes, (*changes[1:], changes[0]), strict=True):
        because = one.scales[0].because
        tonic = one.key.tonic.pc
        named = {name: Name.parse(name).pc for name in _NOTE.findall(because)}
        for words, above in (
            ("the key's major 3rd", 4),
            ("the key's 2nd", 2),
            ("the key's 5th", 7),
            ("the flat 7th of home", 10),
            ("the tonic itself", 0),
        ):
            if words in because:
                assert (tonic + above) % 12 in named.values()
        if "the next chord's 3rd" in because:
            third = after.change.chord.third
            assert third is not None
            assert after.change.chord.tone(third).pc in named.values()


def test_minor_home_between_four_and_flat_six_is_aeolian() -> None:
    """Source: domain reference, row T9."""
    reading = analyse(chart("Cm7|%|Fm7|Cm7|Abmaj7|%|Dm7(b5)|G7(b9)"))
    assert str(reading.changes[3].scales[0].scale).startswith("C Aeolian")
    assert str(reading.changes[0].scales[0].scale) == "C Dorian"


def test_raised_fifth_to_minor_is_altered_from_level_five() -> None:
    """Source: domain reference, row D19."""
    form = chart("Dm7(b5)|G7(#5)|Cm6|%")
    assert analyse(form).changes[1].scales[0].scale.kind.id == "whole_tone"
    late = analyse(form, HouseRules(level=5)).changes[1].scales[0]
    assert late.scale.kind.id == "altered"
    assert "C minor lies ahead" in late.because


def test_reason_never_names_a_note_that_its_scale_lacks() -> None:
    """A half-diminished two with its natural 9th doesn't speak of the flat one."""
    choice = read("T7", HouseRules(level=5)).scales[0]
    assert choice.because == (
        "D Locrian natural 2: on Dm7(b5), the natural 9th, E, a deliberate colour"
    )


def test_held_note_of_the_melody_decides() -> None:
    """A melody note decides between natural and flat 9. Source: domain reference 1.3, 3.3."""
    form = chart("Dm7|G7|Cmaj7|%")
    flat_nine = Note(Fraction(4), Fraction(2), Pitch.parse("Ab4"))
    passing = Note(Fraction(4), Fraction(1, 2), Pitch.parse("Ab4"))
    sung = {
        held: analyse(replace(form, melody=Line((note,), form.length)), HouseRules(level=5))
        for held, note in ((True, flat_nine), (False, passing))
    }
    assert Name.parse("Ab").pc in sung[True].changes[1].scales[0].scale.pcs
    assert sung[True].changes[1].scales[0].because.endswith("the melody asks for it here")
    assert sung[False].changes[1].scales[0].scale.kind.id == "mixolydian"
