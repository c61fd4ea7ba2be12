"""Eighty-odd progressions with the reading a teacher would give. Common practice, no source."""

from collections import Counter

import pytest
from benchmarks.harmony import Sequence, agreement, by_degree, by_resolution, common_practice, ours

from changewright.chart.model import form_of
from changewright.reading.analyse import analyse
from changewright.reading.model import CadenceKind, Function, PassageKind
from tests.unit.reading.forms import chart

PROGRESSIONS = common_practice()


def read(text: str, key: str | None = None) -> str:
    reading = analyse(chart(text, key))
    return " ".join(f"{c.function}@{c.local_tonic}" for c in reading.changes)


def test_progressions_are_many_and_of_every_function() -> None:
    functions = Counter(gold[1] for one in PROGRESSIONS for gold in one.gold if gold is not None)
    assert len(PROGRESSIONS) >= 80
    assert set(functions) == {function.value for function in Function}


@pytest.mark.parametrize("known", [False, True], ids=["key unknown", "key given"])
@pytest.mark.parametrize("one", PROGRESSIONS, ids=lambda one: one.name)
def test_home_and_most_chords_are_read_as_a_teacher_would(one: Sequence, known: bool) -> None:
    found = agreement(ours, (one,), known)
    assert found.home == 1.0
    assert found.both >= 0.85


@pytest.mark.parametrize("known", [False, True])
def test_nearly_every_chord_is_read_as_a_teacher_would(known: bool) -> None:
    ours_right = agreement(ours, PROGRESSIONS, known).both
    assert ours_right >= 0.99
    naive = (agreement(reader, PROGRESSIONS, known).both for reader in (by_degree, by_resolution))
    assert all(ours_right > right + 0.1 for right in naive)


def test_chain_that_breaks_off_shares_the_goal_of_the_next() -> None:
    """Annotators give a cadence that never resolves the resolution of the one after it."""
    assert read("Gm7 C7|Fm7 Bb7|Dm7 G7|Cmaj7", "C") == " ".join(["D@C"] * 6 + ["T@C"])


def test_moving_fifth_over_a_major_home_is_home() -> None:
    assert read("C|C+|C6|C7|Fmaj7|%|G7|C") == "T@C T@C T@C D@F T@F T@F D@C T@C"


def test_augmented_triad_that_leads_on_is_a_five() -> None:
    assert read("C|C+|Fmaj7|%|G7|C") == "T@C D@F T@F T@F D@C T@C"


def test_suspended_chord_that_stays_is_a_mode() -> None:
    held = "|%" * 3
    reading = analyse(chart(f"D7sus4{held}|F7sus4{held}|D7sus4{held}"))
    assert [str(area.key) for area in reading.areas] == ["D", "F", "D"]
    assert {c.function for c in reading.changes} == {Function.TONIC}


def test_seventh_on_one_before_a_major_four_is_the_five_of_four() -> None:
    text = "Bb6 G7|Cm7 F7|Dm7 G7|Cm7 F7|Bb7|Ebmaj7|Cm7|F7"
    assert read(text).split()[8:10] == ["D@Eb", "T@Eb"]


def test_half_cadence_is_no_key() -> None:
    """Am F7 E7: the five of home, not a home of its own, whatever comes next."""
    found = read("Am|Am/G|F7|E7|Dm7|G7|Cmaj7|%|Bm7(b5)|E7|Am|E7").split()
    assert "T@E" not in found


def test_minor_home_reached_by_its_own_cadence_is_home_before_the_cycle_goes_on() -> None:
    text = "Am7|Dm7|G7|Cmaj7|Fmaj7|Bm7(b5)|E7|Am7|Dm7|G7|Cmaj7|%|Bm7(b5)|E7|Am6|%"
    assert read(text).split()[5:8] == ["D@Am", "D@Am", "T@Am"]


def test_two_that_has_its_five_is_no_home() -> None:
    """Minor sevenths stepping down with their fives, and one plain home."""
    text = "Gm7 C7|Fm7 Bb7|Ebm7 Ab7|Dm7 G7|Cmaj7|Am7|Dm7|G7|Gm7 C7|Fm7 Bb7|Ebm7 Ab7|Dm7 G7|C6|%"
    assert str(analyse(chart(text)).key) == "C"


@pytest.mark.parametrize(
    ("text", "home", "function"),
    [
        ("F7|Bb7", "F", "T"),  # the two chords of a blues
        ("C7", "C", "T"),
        ("C7|%|%|%", "C", "T"),
        ("Dm7|G7", "C", "D"),
        ("Bm7(b5) E7", "Am", "D"),
        ("E7|A7|D7|G7", "C", "D"),
    ],
)
def test_vamps_and_turnarounds_with_no_more_to_go_by(text: str, home: str, function: str) -> None:
    reading = analyse(chart(text))
    assert str(reading.key) == home
    assert reading.changes[0].function == function


def test_home_that_is_never_heard_is_a_near_guess_only() -> None:
    """Dm7 G7 for ever: the two and five of C, or a Dorian vamp; both are said."""
    reading = analyse(chart("Dm7|G7"))
    nearest = reading.other_homes[0]
    assert (str(nearest.key), nearest.costs_more < 0.5) == ("Dm", True)


def test_turnaround_that_goes_on_to_the_three_is_named() -> None:
    reading = analyse(chart("Bbmaj7 G7|Cm7 F7|Dm7 G7|Cm7 F7|Fm7 Bb7|Ebmaj7|Cm7 F7|Bb6"))
    bars = [p.first_bar for p in reading.passages if p.kind is PassageKind.TURNAROUND]
    assert bars == [1]
    interrupted = [c for c in reading.cadences if c.kind is CadenceKind.INTERRUPTED]
    assert [(str(c.key), c.first_bar, c.last_bar) for c in interrupted][:1] == [("Bb", 2, 3)]


def test_ii_vs_round_the_cycle_are_a_chain() -> None:
    reading = analyse(chart("Bb6|%|Am7|D7|Dm7|G7|Gm7|C7|Cm7|F7|Bb6|%"))
    chains = [p for p in reading.passages if p.kind is PassageKind.TWO_FIVE_CHAIN]
    assert [(p.first_bar, p.last_bar, p.words) for p in chains] == [
        (3, 10, "4 ii-Vs in a row, moving by fourths")
    ]


def test_rocking_mode_has_no_cadence() -> None:
    assert analyse(chart("Dm7|G7|Dm7|G7|Dm7|G7|Dm7|%", "Dm")).cadences == ()


def test_two_that_slides_to_a_dominant_a_semitone_below_is_the_two_of_home() -> None:
    """Fm7 E7 in E flat: the tritone substitute, even where it gives way to another chord."""
    reading = analyse(chart("Ebmaj7|Cm7|Fm7|E7|Am7(b5) D7|Gm7|Fm7|Bb7", "Eb"))
    assert (reading.changes[2].relation, reading.changes[2].numeral) == ("", "iim7")
    assert reading.changes[2].doing == "two, sliding down to E7"


@pytest.mark.parametrize("one", PROGRESSIONS[::7], ids=lambda one: one.name)
def test_home_stays_however_many_choruses_are_written_out(one: Sequence) -> None:
    assert analyse(form_of(one.chords * 12)).key.tonic == one.key.tonic
