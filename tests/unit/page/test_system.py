"""What a copyist would check on every system."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from changewright.music.bar import Meter
from changewright.music.line import Role
from changewright.music.notation import notate
from changewright.music.promise import Quotes
from changewright.page.engraving import engrave_notation
from changewright.page.look import look_of
from changewright.page.svg import picture_svg
from changewright.page.system import System
from tests.unit.page.checker import SPACE, faults, inks
from tests.unit.page.sheets import E8, LETTERS, Q, random_rhythms, sheet_of

PLAIN = look_of("plain")


def engraved(look_name: str = "plain", bars_a_system: int = 4, **options) -> tuple[System, ...]:
    return engrave_notation(
        notate(sheet_of(**options)), look_of(look_name), bars_a_system=bars_a_system
    )


def kinds(system: System, kind: str) -> list[str]:
    return ["".join(r.text for r in t.runs) for t in system.texts if t.kind == kind]


HARD = {
    "a blues": {"labels": LETTERS},
    "a tuba all over": {"instrument_id": "tuba", "stage": "professional"},
    "a flute all over": {"instrument_id": "flute", "stage": "professional", "rhythm": (E8,) * 8},
    "mixed rhythms": {"rhythm": random_rhythms(1), "labels": LETTERS},
    "long symbols": {
        "symbols": [("Dm7(b5)", 2), ("G7(b9,b13)", 2), ("Abmaj7(#11)/C", 2), ("Cm(maj7)", 2)] * 2,
        "rhythm": (E8,) * 8,
        "key": "Cm",
    },
    "a chord a beat": {"symbols": [("Fm11", 1), ("Bb13(b9)", 1), ("Ebmaj13", 1), ("A7alt", 1)] * 4},
    "six flats": {"symbols": [("Gb7", 4), ("Cb7", 4)] * 2, "key": "Gb", "instrument_id": "flute"},
    "blanks": {"blank": (2, 4, 6, 8), "labels": LETTERS},
}


@pytest.mark.parametrize("look", ["plain", "handwritten"])
@pytest.mark.parametrize("options", HARD.values(), ids=HARD.keys())
def test_nothing_collides_and_nothing_leaves_the_page(options, look):
    for system in engraved(look, **options):
        assert faults(picture_svg(system.picture), look_of(look).music) == []


def test_the_checker_sees_planted_faults():
    svg = picture_svg(engraved(rhythm=(E8,) * 8)[0].picture)
    lifted = re.sub(
        r'(class="figure"[^>]* y=")(\d+)',
        lambda m: f"{m[1]}{int(m[2]) - 3 * SPACE}",
        svg,
    )
    assert any("meets" in fault for fault in faults(lifted, "Leland"))
    narrow = re.sub(r'viewBox="0 (\S+) \d+', r'viewBox="0 \1 9000', svg)
    assert any("sideways" in fault for fault in faults(narrow, "Leland"))


def test_four_bars_share_a_system():
    assert [len(s.bars) for s in engraved()] == [4, 4, 4]


def test_sections_begin_new_systems():
    systems = engraved(labels={1: "A", 7: "B"})
    assert [s.bars[0].bar.number for s in systems] == [1, 4, 7, 10]


def test_the_last_two_systems_are_evened_out():
    symbols = [("C7", 4)] * 10
    assert [len(s.bars) for s in engraved(symbols=symbols, key="C")] == [4, 3, 3]


def test_crowded_bars_get_more_room():
    symbols = [("Fm11", 1), ("Bb13(b9)", 1), ("Ebmaj13", 1), ("A7alt", 1)] * 4
    assert max(len(s.bars) for s in engraved(symbols=symbols)) < 4
    assert [len(s.bars) for s in engraved(bars_a_system=2)] == [2] * 6


def test_a_short_exercise_is_not_stretched():
    (short,) = engraved(symbols=[("F7", 8)])
    (full,) = engraved(symbols=[("F7", 16)])
    assert short.width < 0.75 * full.width


def test_a_pickup_rides_with_the_first_system():
    first = engraved(pickup=Q, labels=LETTERS)[0]
    assert [b.bar.number for b in first.bars] == [0, 1, 2, 3, 4]


def test_no_rest_is_drawn_in_a_blank_bar():
    system = engraved(blank=(1, 2, 3, 4), seed=0)[0]
    assert not [s for s in system.shapes if s.kind in ("rest", "mRest", "notehead", "stem")]
    assert kinds(system, "cue") == ["1", "1", "1", "1"]
    widths = [b - a for a, b in zip(_edges(system), _edges(system)[1:], strict=False)]
    assert min(widths) > 15 * SPACE  # room to write in


def _edges(system: System) -> list[float]:
    return [0.0, *sorted({s.box.left for s in system.shapes if s.kind == "barLine"})]


def test_a_silent_bar_shows_one_rest():
    system = engraved(symbols=[("F7", 4)] * 4, rhythm={1: (Q,) * 4, 2: (), 3: (), 4: (Q,) * 4})[0]
    assert len([s for s in system.shapes if s.kind == "mRest"]) == 2


def test_figures_stand_under_their_notes():
    system = engraved(seed=0)[0]
    heads = sorted((s.box for s in system.shapes if s.kind == "notehead"), key=lambda b: b.left)
    figures = [t for t in system.texts if t.kind == "figure"]
    assert kinds(system, "figure")[:4] == ["1", "3", "5", "♭7"]
    for head, figure in zip(heads, figures, strict=True):
        middle = (figure.box.left + figure.box.right) / 2
        assert head.left < middle < head.right
        assert figure.box.top > head.bottom
    assert len({f.y for f in figures}) == 1


def test_symbols_share_one_line_and_repeat_only_at_a_new_system():
    systems = engraved()
    assert [kinds(s, "symbol") for s in systems] == [["G7"], ["C7", "G7"], ["D7", "C7", "G7"]]
    assert all(len({t.y for t in s.texts if t.kind == "symbol"}) == 1 for s in systems)


def test_bar_numbers_and_letters_open_the_systems():
    systems = engraved(labels=LETTERS)
    assert [kinds(s, "number") for s in systems] == [[], ["5"], ["9"]]
    assert [kinds(s, "label") for s in systems] == [["A"], ["B"], ["C"]]
    assert all(t.boxed for s in systems for t in s.texts if t.kind == "label")


def test_a_letter_inside_a_system_stands_over_its_bar():
    system = engraved(labels={1: "A"}, pickup=Q)[0]
    label = next(t for t in system.texts if t.kind == "label")
    assert label.x > 0.1 * system.width


def test_a_vamp_that_goes_on_needs_no_second_letter():
    vamp = [("Dm7", 4), ("G7", 4)] * 4
    systems = engraved(symbols=vamp, labels=dict.fromkeys((1, 3, 5, 7), "A"))
    assert [[b.bar.number for b in s.bars] for s in systems] == [[1, 2, 3, 4], [5, 6, 7, 8]]
    assert [kinds(s, "label") for s in systems] == [["A"], ["A"]]


def test_figures_that_would_touch_get_room():
    """At first the engraver makes no room for short figures; where they would touch, it does."""
    flats = [(f"{root}7(b9)", 4) for root in ("F", "Bb", "Eb", "Ab")]
    systems = engraved(symbols=flats, rhythm=(Fraction(1, 4),) * 16, bars_a_system=2)
    assert not any(s.figures_are_tight for s in systems)
    assert [f for s in systems for f in faults(picture_svg(s.picture), PLAIN.music)] == []


def test_triplets_are_numbered_above_away_from_the_figures():
    system = engraved(rhythm=(Fraction(1, 3),) * 3 + (Q, Fraction(2, 3), Fraction(1, 3), Q))[0]
    numbers = [t for t in system.texts if t.kind == "triplet"]
    assert len(numbers) == 8
    assert all(t.box.bottom < system.staff[0] for t in numbers)
    assert [s.kind for s in system.shapes].count("bracket") == 4


def test_a_staff_is_seven_millimetres():
    # 180 mm across the page; domain reference 1.5: about 7 mm or more
    system = engraved()[0]
    height = (system.staff[1] - system.staff[0]) * 180 / system.width
    assert height == pytest.approx(7.0, abs=0.05)


def test_ledger_lines_ties_dots_and_flags_are_drawn():
    sheet = sheet_of(
        [("C7", 4)], instrument_id="tuba", key="C", stage="professional",
        rhythm=(Fraction(3, 2), Q, E8, Q), seed=5,
    )  # fmt: skip
    (system,) = engrave_notation(notate(sheet), PLAIN)
    found = {s.kind for s in system.shapes}
    assert {"tie", "dots", "flag", "ledgerLines", "stem", "notehead"} <= found


def test_a_courtesy_accidental_is_in_parentheses():
    system = engraved()[1]
    codes = [s.glyph.code for s in system.shapes if s.kind == "accid" and s.glyph]
    # SMuFL: E26A and E26B are the parentheses of accidentals
    assert codes.count("E26A") == codes.count("E26B") == 1


@pytest.mark.parametrize(("beats", "unit"), [(3, 4), (5, 4), (6, 8), (12, 8), (2, 2), (7, 4)])
def test_any_meter_is_engraved(beats, unit):
    meter = Meter(beats, unit)
    rhythm = (E8,) * int(meter.length * 2)
    systems = engraved(symbols=[("C7", beats)] * 4, key="C", meter=meter, rhythm=rhythm)
    assert sum(len(s.bars) for s in systems) == 4
    for system in systems:
        assert faults(picture_svg(system.picture), PLAIN.music) == []


def test_boxes_are_at_least_as_large_as_the_ink():
    for name in ("plain", "handwritten"):
        look = look_of(name)
        for system in engraved(name, **HARD["long symbols"]):
            measured = [
                i for i in inks(picture_svg(system.picture), look.music) if i.kind == "symbol"
            ]
            boxes = [t.box for t in system.texts if t.kind == "symbol"]
            for ink, box in zip(measured, boxes, strict=True):
                room = 0.12 * SPACE
                assert box.left - room <= ink.left
                assert ink.right <= box.right + room
                assert box.top - room <= ink.top
                assert ink.bottom <= box.bottom + room


def test_the_same_sheet_gives_the_same_drawing():
    first, second = (engraved(**HARD["mixed rhythms"]) for _ in range(2))
    assert first == second
    assert replace(first[0]) == second[0]


def test_repeats_are_drawn_and_counted():
    systems = engraved(symbols=[("C7", 4), ("F7", 4), ("C7", 4), ("G7", 4)] * 3, key="C", seed=0)
    assert len(systems) == 1
    # SMuFL E043, E044: repeat dots; the engraver draws them as ellipses of the bar line
    assert kinds(systems[0], "times") == ["3x"]
    assert faults(picture_svg(systems[0].picture), PLAIN.music) == []


def test_a_quoted_phrase_stands_under_a_bracket():
    sheet = sheet_of(rhythm=(E8,) * 8, seed=6)
    onsets = tuple(n.onset for n in sheet.line.notes[12:20])
    phrase = Quotes(onsets[0], tuple(o - onsets[0] for o in onsets), (0,) * len(onsets))
    quoted = replace(sheet, promises=(phrase,))
    systems = engrave_notation(notate(quoted), PLAIN)
    brackets = [(s, x) for s in systems for x in s.shapes if x.kind == "phrase"]
    assert len(brackets) == 1
    system, bracket = brackets[0]
    heads = sorted((s.box for s in system.shapes if s.kind == "notehead"), key=lambda b: b.left)
    assert bracket.box.left == heads[12].left
    assert bracket.box.right == heads[19].right
    for each in systems:
        assert faults(picture_svg(each.picture), PLAIN.music) == []


def test_notes_outside_the_chord_say_what_they_are_for():
    sheet = sheet_of(rhythm=(E8,) * 8)
    notes = list(sheet.line.notes)
    notes[7] = replace(notes[7], degree=None, role=Role.APPROACH)
    notes[5] = replace(notes[5], degree=None, role=Role.ENCLOSURE)
    system = engrave_notation(notate(sheet.with_line(sheet.line.with_(notes))), PLAIN)[0]
    figures = kinds(system, "figure")
    assert (figures[5], figures[7]) == ("e", "a")
