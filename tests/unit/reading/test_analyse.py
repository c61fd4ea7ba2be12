"""Forms that every teacher reads alike, and the cases that a reader must know.

Sources: facts K071 to K084 of the domain reference (each named at its test; S10 is an open
encyclopedia's articles on chord progressions, S23 a tritone-substitution lesson); common
practice, no source, where nothing else is said.
"""

import json

import pytest

from changewright.chart.model import form_of
from changewright.reading.analyse import analyse
from changewright.reading.model import CadenceKind, Function, PassageKind, Reading
from tests.unit.reading.forms import SHARED, KnownForm, chart, known_forms


def said(text: str, key: str | None = None) -> list[str]:
    reading = analyse(chart(text, key))
    return [f"{c.key} {c.numeral} {c.function}" for c in reading.changes]


def numerals(reading: Reading) -> str:
    return " ".join(c.numeral for c in reading.changes)


# --- facts ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Dm7|G7|Cmaj7", "C"),  # K071
        ("Cm7|F7|Bbmaj7", "Bb"),  # K072
        ("Ebm7|Ab7|Dbmaj7", "Db"),  # K073
    ],
)
def test_two_five_one_in_major(text: str, key: str) -> None:
    assert said(text) == [f"{key} iim7 D", f"{key} V7 D", f"{key} Imaj7 T"]


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Dø7|G7|Cm6", "Cm"),  # K074
        ("Bø7|E7|Am6", "Am"),  # K075
    ],
)
def test_two_five_one_in_minor(text: str, key: str) -> None:
    assert said(text) == [f"{key} iiø7 D", f"{key} V7 D", f"{key} im6 T"]


@pytest.mark.parametrize(
    ("text", "relation", "doing"),
    [
        ("Cmaj7|A7|Dm7|G7", "V7/ii", "five of two"),
        ("Cmaj7|B7|Em7 A7|Dm7 G7", "V7/iii", "five of three"),
        ("Cmaj7|C7|Fmaj7|Dm7 G7", "V7/IV", "five of four"),
        ("Cmaj7|D7|G7|Cmaj7", "V7/V", "five of five"),
        ("Cmaj7|E7|Am7 D7|Dm7 G7", "V7/vi", "five of six"),
    ],
)
def test_secondary_dominants(text: str, relation: str, doing: str) -> None:
    """K076, common practice."""
    one = analyse(chart(text)).changes[1]
    assert (one.relation, one.doing, one.function) == (relation, doing, Function.DOMINANT)


def test_tritone_substitute() -> None:
    """K077 (S23)."""
    reading = analyse(chart("Dm7|Db7|Cmaj7|%"))
    assert reading.changes[1].relation == "subV7"
    assert reading.changes[1].doing == "tritone substitute for the five"
    assert [c.kind for c in reading.cadences] == [CadenceKind.TRITONE]


def test_related_two_of_a_tritone_substitute() -> None:
    one = analyse(chart("Cmaj7|%|Abm7 Db7|Cmaj7")).changes[2]
    assert one.relation == "ii/subV7"
    assert one.doing == "related two of the tritone substitute"


def test_backdoor() -> None:
    """K078 (S10)."""
    reading = analyse(chart("Cmaj7|Fm7|Bb7|Cmaj7"))
    assert [c.function for c in reading.changes] == ["T", "D", "D", "T"]
    assert reading.changes[2].doing == "flat seven, home by the back door"
    assert [c.kind for c in reading.cadences] == [CadenceKind.BACKDOOR]


def test_cycle_bridge() -> None:
    """K079 (S10)."""
    reading = analyse(chart("D7|%|G7|%|C7|%|F7|%", "Bb"))
    assert numerals(reading) == "III7 III7 VI7 VI7 II7 II7 V7 V7"
    assert PassageKind.BACK_CYCLING in {p.kind for p in reading.passages}


def test_major_third_cycle() -> None:
    """K080 (S10)."""
    reading = analyse(chart("Cmaj7 Eb7|Abmaj7 B7|Emaj7 G7|Cmaj7"))
    assert [str(c.key) for c in reading.changes] == ["C", "Ab", "Ab", "E", "E", "C", "C"]
    assert PassageKind.MAJOR_THIRDS in {p.kind for p in reading.passages}


def test_major_third_cycle_for_a_two_five_one() -> None:
    """K081 (S10)."""
    reading = analyse(chart("Dm7 Eb7|Abmaj7 B7|Emaj7 G7|Cmaj7"))
    assert str(reading.key) == "C"
    assert [c.function for c in reading.changes][1:] == ["D", "T", "D", "T", "D", "T"]


def test_turnaround_in_major_sevenths() -> None:
    """K082 (S10): derived by tritone substitution, so a chain back to home."""
    reading = analyse(chart("Cmaj7 Ebmaj7|Abmaj7 Dbmaj7"))
    assert said("Cmaj7 Ebmaj7|Abmaj7 Dbmaj7") == [
        "C Imaj7 T",
        "C bIIImaj7 D",
        "C bVImaj7 D",
        "C bIImaj7 D",
    ]
    assert [p.kind for p in reading.passages] == [PassageKind.TURNAROUND]


def test_jazz_blues() -> None:
    """K083, from memory; shape after S10."""
    reading = analyse(chart("F7|Bb7|F7|Cm7 F7|Bb7|B°7|F7|D7(b9)|Gm7|C7|F7 D7(b9)|Gm7 C7"))
    assert (str(reading.key), reading.colour) == ("F", "blues")
    assert numerals(reading) == ("I7 IV7 I7 vm7 I7 IV7 #iv°7 I7 VI7(b9) iim7 V7 I7 VI7(b9) iim7 V7")
    assert reading.changes[3].doing == "two of four"
    assert reading.changes[5].doing == "four of the blues, reached by its own five"
    assert reading.changes[6].function is Function.PASSING


def test_diatonic_sevenths_in_e_flat() -> None:
    """K084, common practice."""
    text = "Ebmaj7|Fm7|Gm7|Abmaj7|Bb7|Cm7|Dø7|Ebmaj7"
    assert numerals(analyse(chart(text, "Eb"))) == ("Imaj7 iim7 iiim7 IVmaj7 V7 vim7 viiø7 Imaj7")


# --- published worked examples -------------------------------------------------------------------


def test_blues_frame() -> None:
    """Source: chord rewrite rules after Steedman 1984, Music Perception 2(1):52-77."""
    reading = analyse(chart("C|%|%|%|F|%|C|%|G|F|C|C"))
    assert str(reading.key) == "C"
    assert "".join(c.function for c in reading.changes) == "TTTTSSTTDSTT"


def test_blues_with_a_chain_of_fives() -> None:
    """Source: the same; bars 6-10 are a chain of dominants that resolves to I in bar 11."""
    reading = analyse(chart("C|F|C|C7|F|B7|E7|A7|D7|G7|C|C"))
    chain = reading.changes[5:10]
    assert {c.function for c in chain} == {Function.DOMINANT}
    assert {str(c.local_tonic) for c in chain} == {"C"}
    assert reading.changes[10].function is Function.TONIC
    assert any(p.kind is PassageKind.BACK_CYCLING and p.first_bar == 6 for p in reading.passages)


def test_blues_in_phrases_of_four() -> None:
    """Source: Open Music Theory v1: tonic, subdominant and dominant phrases of four bars."""
    reading = analyse(chart("C7|%|%|%|F7|%|C7|%|G7|F7|C7|%"))
    assert [reading.changes[i].function for i in (0, 4, 8)] == ["T", "S", "D"]


@pytest.mark.skipif(not SHARED.exists(), reason="the shared examples aren't at hand")
def test_the_worked_examples_are_the_ones_above() -> None:
    kept = json.loads((SHARED / "data" / "worked_examples.json").read_text("utf-8"))
    assert [one["id"] for one in kept["examples"]] == [
        "steedman-blues-basic",
        "steedman-blues-cycle",
        "omt-12bar",
    ]


def at_home(known: KnownForm) -> list[tuple[str, str]]:
    """Our numerals beside the reference's, where the passage is in the tune's own key."""
    reading = analyse(known.form)
    found = reading.changes
    heads = [
        c
        for a, c in zip((None, *found), found, strict=False)
        if a is None or c.change.chord != a.change.chord
    ]
    played = [roman for roman in known.romans if roman != "%"]
    pairs = zip(heads, played, strict=True)
    return [(one.numeral, roman) for one, roman in pairs if one.key == reading.key]


@pytest.mark.parametrize("known", list(known_forms()), ids=lambda known: known.name)
def test_numerals_of_the_known_forms(known: KnownForm) -> None:
    """Source: domain reference, section 4."""
    assert [ours for ours, _ in at_home(known)] == [theirs for _, theirs in at_home(known)]


@pytest.mark.skipif(not SHARED.exists(), reason="the shared forms aren't at hand")
def test_most_chords_of_the_known_forms_are_in_the_key_of_their_tune() -> None:
    assert sum(len(at_home(known)) for known in known_forms()) >= 230


# --- what a reader must know ---------------------------------------------------------------------


def test_three_chord_blues() -> None:
    reading = analyse(chart("F7|%|%|%|Bb7|%|F7|%|C7|Bb7|F7|C7"))
    assert (str(reading.key), reading.colour) == ("F", "blues")
    assert numerals(reading) == "I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 V7"
    assert [c.function for c in reading.changes[:5]] == ["T", "T", "T", "T", "S"]


def test_minor_blues() -> None:
    reading = analyse(chart("Fm7|%|%|%|Bbm7|%|Fm7|%|Db7|C7|Fm7|%"))
    assert str(reading.key) == "Fm"
    assert [reading.changes[i].function for i in (0, 4, 8, 9)] == ["T", "S", "D", "D"]


def test_interrupted_two_five() -> None:
    reading = analyse(chart("Dm7 G7|Em7 A7|Dm7 G7|Cmaj7"))
    kinds = [(c.kind, c.first_bar, c.last_bar) for c in reading.cadences]
    assert kinds == [
        (CadenceKind.INTERRUPTED, 1, 2),
        (CadenceKind.TWO_FIVE_ONE, 3, 4),
    ]


def test_deceptive_resolution() -> None:
    reading = analyse(chart("Cmaj7|G7|Am7|Fmaj7|Cmaj7|G7|Cmaj7|%"))
    assert reading.changes[1].doing == "five, resolving deceptively to Am7"
    assert reading.cadences[0].kind is CadenceKind.DECEPTIVE


def test_sharp_one_diminished_is_the_five_of_two_without_its_root() -> None:
    """Source: domain reference, rows X1 and X2 (K039, K040 for the notes)."""
    one = analyse(chart("Cmaj7 C#°7|Dm7 G7|Cmaj7")).changes[1]
    assert (one.numeral, one.relation) == ("#i°7", "vii°7/ii")
    assert one.doing == "five of two without its root"


def test_passing_and_auxiliary_diminished() -> None:
    falling = analyse(chart("Em7|Eb°7|Dm7|G7|Cmaj7|%")).changes[1]
    assert falling.doing == "flat three diminished, passing down to Dm7"
    rising = analyse(chart("C|C7|F|F#°7|C/G|%|G7|C")).changes[3]
    assert rising.function is Function.PASSING


def test_leading_note_diminished_is_a_cadence() -> None:
    reading = analyse(chart("Cmaj7|B°7|Cmaj7|%"))
    assert reading.changes[1].doing == "five without its root"
    assert [c.kind for c in reading.cadences] == [CadenceKind.DIMINISHED]


def test_vamp_that_never_resolves_has_an_end() -> None:
    """A five whose ii comes back for ever, all round the chorus."""
    reading = analyse(chart("Dm7 G7|Dm7 G7", "C"))
    assert [c.doing for c in reading.changes] == ["two", "five, home still to come"] * 2


def test_minor_subdominant_and_interchange() -> None:
    reading = analyse(chart("Cmaj7|Fmaj7|Fm6|Cmaj7"))
    assert reading.changes[2].doing == "minor four, borrowed"
    assert reading.cadences[-1].kind is CadenceKind.PLAGAL


@pytest.mark.parametrize("symbol", ["C11", "Gm7/C", "C9sus4", "Bb/C", "C7sus4"])
def test_suspended_fives_are_fives_however_they_are_written(symbol: str) -> None:
    """K029, K030: C11, Gm7/C and C9sus4 are one sound."""
    one = analyse(chart(f"Gm7|{symbol}|Fmaj7|%")).changes[1]
    assert one.function is Function.DOMINANT
    assert one.numeral.startswith("V")
    assert one.scales[0].rule == "D13"
    assert str(one.scales[0].scale) == "C Mixolydian"


def test_inversion_keeps_its_function() -> None:
    assert [c.function for c in analyse(chart("Dm7|G7/B|C/E|%")).changes] == ["D", "D", "T", "T"]


def test_pedal_point() -> None:
    reading = analyse(chart("Dm7/G|G7|Cmaj7/G|G7|Cmaj7|%"))
    assert PassageKind.PEDAL in {p.kind for p in reading.passages}


def test_modal_sections_have_their_own_keys() -> None:
    held = "|%" * 7
    reading = analyse(chart(f"Dm11{held}|Ebm11{held}|Dm11{held}"))
    assert [str(area.key) for area in reading.areas] == ["Dm", "Ebm", "Dm"]
    assert [p.kind for p in reading.passages] == [PassageKind.MODAL] * 3


def test_minor_third_cycle() -> None:
    reading = analyse(chart("Dm7 G7|Cmaj7|Fm7 Bb7|Ebmaj7|Abm7 Db7|Gbmaj7|Dm7 G7|Cmaj7"))
    assert [str(a.key) for a in reading.areas] == ["C", "Eb", "Gb", "C"]
    assert PassageKind.MINOR_THIRDS in {p.kind for p in reading.passages}


def test_line_cliche() -> None:
    reading = analyse(chart("Cm|Cm(maj7)|Cm7|Cm6"))
    assert {c.numeral for c in reading.changes} == {"im", "im(maj7)", "im7", "im6"}
    assert PassageKind.LINE_CLICHE in {p.kind for p in reading.passages}


def test_four_bars_with_its_own_cadence_is_a_key_and_a_passing_four_is_not() -> None:
    bridge = analyse(chart("Bbmaj7|%|Fm7|Bb7|Ebmaj7|%|Gm7|C7|Cm7|F7|Bbmaj7|%"))
    assert [str(a.key) for a in bridge.areas] == ["Bb", "Eb", "Bb"]
    passing = analyse(chart("Bbmaj7|Fm7 Bb7|Ebmaj7|Cm7 F7|Bbmaj7|%"))
    assert [str(a.key) for a in passing.areas] == ["Bb"]


def test_last_bar_leads_round_to_the_first() -> None:
    """A turnaround at the end resolves in the next chorus."""
    reading = analyse(chart("Cmaj7|%|Dm7|G7"))
    assert reading.cadences[-1].kind is CadenceKind.TWO_FIVE_ONE
    assert reading.cadences[-1].last == 0


def test_the_wrap_decides_what_a_lone_turnaround_is_in() -> None:
    assert str(analyse(chart("Em7 A7(b9)|Dm7 G7")).key) == "C"


def test_runners_up_are_named_with_their_distance() -> None:
    reading = analyse(chart("Cmaj7|Am7|Dm7|G7"))
    assert reading.other_homes
    assert all(home.costs_more >= 0 for home in reading.other_homes)
    others = [other for c in reading.changes for other in c.others]
    assert others
    assert all(other.costs_more >= 0 for other in others)


def test_given_key_is_kept() -> None:
    reading = analyse(chart("Fm7|Bb7|Ebmaj7|%|Gm7|C7|Cm7|F7", "Bb"))
    assert str(reading.key) == "Bb"


def test_silence_stands_in_the_key_around_it() -> None:
    reading = analyse(chart("N.C.|Dm7 G7|Cmaj7|N.C."))
    first, last = reading.changes[0], reading.changes[-1]
    assert (first.numeral, first.scales, str(first.key)) == ("N.C.", (), "C")
    assert (last.numeral, last.scales, str(last.key)) == ("N.C.", (), "C")


def test_nothing_but_silence() -> None:
    reading = analyse(chart("N.C.|N.C."))
    assert [c.numeral for c in reading.changes] == ["N.C.", "N.C."]


def test_one_chord() -> None:
    reading = analyse(form_of([("Cmaj7", 4)]))
    assert [c.numeral for c in reading.changes] == ["Imaj7"]
