"""Guide tones. Sources: facts K085 to K090 of the domain reference (S24, ii-V-I voicings; the
blues from common practice), and its computed list of exceptions in 5.3, F5."""

import pytest

from changewright.reading.analyse import analyse
from changewright.reading.guide import GuideLine, guide_lines, guide_pair, joins, motion
from changewright.theory.pitch import Name
from changewright.theory.symbols import read_symbol
from tests.unit.reading.forms import SHARED, KnownForm, chart, known_forms


def lines(text: str) -> tuple[GuideLine, GuideLine]:
    found = guide_lines(analyse(chart(text)))
    assert found is not None
    return found


def names(line: GuideLine) -> str:
    return " ".join(f"{note.name}({note.degree})" for note in line.notes)


def test_two_five_one_resolves_seven_to_three() -> None:
    """K085 to K088: C falls to B and stays, F stays and falls to E."""
    from_third, from_seventh = lines("Dm7|G7|Cmaj7")
    assert names(from_third) == "F(b3) F(b7) E(3)"
    assert names(from_seventh) == "C(b7) B(3) B(7)"


def test_blues_moves_by_semitones() -> None:
    """K089, K090: F7 to Bb7, A to Ab and Eb to D."""
    from_third, from_seventh = lines("F7|Bb7")
    assert names(from_third) == "A(3) Ab(b7)"
    assert names(from_seventh) == "Eb(b7) D(3)"


def test_two_lines_never_take_the_same_note() -> None:
    one, other = lines("F7|Bb7|F7|Cm7 F7|Bb7|B°7|F7|D7(b9)|Gm7|C7|F7 D7(b9)|Gm7 C7")
    assert all(a.degree != b.degree for a, b in zip(one.notes, other.notes, strict=True))


def test_blues_bar_eight_offers_the_flat_nine() -> None:
    """I7 to VI7: no guide tone within a whole tone; the b9 stands in. Source: 5.3, F5."""
    one, other = lines("F7|D7|Gm7")
    leaping = [note for line in (one, other) for note in line.notes if abs(note.motion) > 2]
    assert len(leaping) == 2
    assert {str(note.instead) for note in leaping} == {"None", "b9"}
    assert {note.because for note in leaping} == {
        "no guide tone lies within a step of A; go down a minor third",
        "no guide tone lies within a step of Eb; the b9, Eb, stays where it is",
    }


def test_stand_ins() -> None:
    """6 for 7, 4 for 3 (domain reference 2.5); a triad has its root for the 7th."""
    pairs = {s: tuple(map(str, guide_pair(read_symbol(s)))) for s in ("C6", "C7sus4", "C", "Cm6")}
    assert pairs == {"C6": ("3", "6"), "C7sus4": ("4", "b7"), "C": ("3", "1"), "Cm6": ("b3", "6")}


@pytest.mark.parametrize(("start", "end", "by"), [("C", "B", -1), ("B", "C", 1), ("C", "F#", -6)])
def test_motion_is_the_shorter_way_and_a_tritone_falls(start: str, end: str, by: int) -> None:
    assert motion(Name.parse(start), Name.parse(end)) == by


def test_held_chord_has_one_note() -> None:
    assert [len(line.notes) for line in lines("Cmaj7|%|%|Dm7")] == [2, 2]


def test_joins_name_shared_and_moving_tones() -> None:
    first, second = joins(analyse(chart("Dm7|G7|Cmaj7")))
    assert [str(n) for n in first.shared] == ["D", "F"]
    assert [(str(m.start), str(m.end), m.semitones) for m in first.moves] == [("C", "B", -1)]
    assert [str(n) for n in second.shared] == ["G", "B"]
    assert ("F", "E", -1) in [(str(m.start), str(m.end), m.semitones) for m in second.moves]


def test_nothing_but_silence_has_no_lines() -> None:
    reading = analyse(chart("N.C."))
    assert guide_lines(reading) is None
    assert joins(reading) == ()


def leaps(known: KnownForm) -> list[tuple[str, int]]:
    """Changes where one or both guide tones find none of the next chord within a whole tone."""
    reading = analyse(known.form)
    played = [r for r in known.romans if r != "%"]
    found = []
    for join, roman, then in zip(joins(reading), played, played[1:], strict=False):
        before, after = (reading.changes[join.index - k].change.chord for k in (1, 0))
        ends = [after.tone(d) for d in guide_pair(after)]
        far = sum(
            min(abs(motion(before.tone(d), end)) for end in ends) > 2 for d in guide_pair(before)
        )
        if far:
            found.append((f"{roman} to {then}", far))
    return found


@pytest.mark.skipif(not SHARED.exists(), reason="the shared forms aren't at hand")
def test_the_known_exceptions_are_found() -> None:
    """Source: domain reference 5.3, F5, computed over the forms of its section 4."""
    found = {leap for known in known_forms() for leap in leaps(known)}
    both = {name for name, far in found if far == 2}
    assert both == {"I7 to VI7(b9)", "im6 to bVI7"}
    assert {
        "V7 to iiim7", "im7 to bVI7", "im6 to iiø7", "Imaj7 to vim7", "Imaj7 to VI7(b9)",
        "Imaj7 to bIII7", "Imaj7 to bIIImaj7", "ivm6 to iim7", "Imaj7 to iiim7", "I6 to iim7",
        "Imaj7 to ivm7", "bVII7 to Imaj7", "ivm6 to Imaj7", "ivm7 to iiø7", "im7 to bVImaj7",
    } <= {name for name, far in found if far == 1}  # fmt: skip
