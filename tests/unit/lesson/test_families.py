"""The families that write lines note by note: what each must show on the page.

Checked against: the worked examples of approach notes into C7 (D# E, F# G) and of enclosures over
F7 (B flat, G sharp into A), arithmetic; the blues scale-line example over F7 Bb7 F7, arithmetic.
"""

import re
from fractions import Fraction
from itertools import pairwise

import pytest

from changewright.chart.model import form_of
from changewright.errors import InputError, UnknownName
from changewright.lesson.compose import compose, grounds, plan_of
from changewright.lesson.family import families, family
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.line import Role
from changewright.music.promise import Approached, Quotes, Rests
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import bar_names, names, reading

TENOR = Player(instrument("tenor saxophone"))
ALTO = Player(instrument("alto saxophone"))


def made(name, number=4, seed=1, form="jazz blues", key="F", player=TENOR):
    return compose(reading(form, key), player, level(number), name, seed)


@pytest.mark.parametrize("name", [f.id for f in families().values() if not f.wants_melody])
@pytest.mark.parametrize("seed", [1, 2])
def test_every_family_keeps_its_promises_at_its_first_level_and_above(name, seed):
    since = families()[name].since
    for number in {since, min(since + 2, 8)}:
        sheet = made(name, number, seed)
        assert broken(sheet) == ()
        assert len(sheet.promises) > 2 or families()[name].checks
        assert len(sheet.instruction) < 170


@pytest.mark.parametrize(
    "name",
    [f"{f.id}.{v}" for f in families().values() if not f.wants_melody for v in f.variants],
)
def test_every_variant_can_be_asked_for(name):
    sheet = made(name, max(4, family(name)[0].since), player=ALTO)
    assert sheet.recipe.family == name
    assert broken(sheet) == ()


def test_a_family_below_its_level_is_said_so():
    with pytest.raises(InputError, match="begins at level 4"):
        made("enclosures", 2)


def test_an_unknown_family_lists_those_we_know():
    with pytest.raises(UnknownName, match="root-up"):
        made("roots-up")


def test_approach_into_the_third_of_c7_is_spelled_by_direction():
    short = analyse(form_of([("C7", 4)] * 4))
    found = set()
    for seed in range(12):
        sheet = compose(short, ALTO, level(3), "approach-notes", seed)
        for a, b in pairwise(sheet.line.notes):
            if a.role == Role.APPROACH:
                found.add(f"{a.pitch.name} {b.pitch.name}")
                assert b.pitch.midi - a.pitch.midi == 1
                assert a.duration == Fraction(1, 2)
    assert found == {"D# E", "F# G"}


def test_enclosure_of_the_third_of_f7():
    short = analyse(form_of([("F7", 4)] * 4))
    found = set()
    for seed in range(8):
        notes = compose(short, ALTO, level(4), "enclosures", seed).line.notes
        for a, b, c in zip(notes, notes[1:], notes[2:], strict=False):
            if a.role == b.role == Role.ENCLOSURE:
                found.add(names((a, b, c)))
                assert c.role == Role.TARGET
    assert found == {"Bb G# A"}


def test_enclosures_are_promised_as_asked_not_as_they_turned_out():
    sheet = made("enclosures.semitones", 5)
    asked = {p.offsets for p in sheet.promises if isinstance(p, Approached)}
    assert asked == {(1, -1)}


def test_the_continuing_scale_line_of_the_blues():
    """F G A Bb C D Eb F | G Ab Bb C D Eb F G | A Bb C D ... is one of the lines."""
    short = analyse(form_of([("F7", 4), ("Bb7", 4), ("F7", 4)]))
    piano = Player(instrument("piano"))
    ground = next(grounds(short, piano, level(6), "chord-scales"))
    plan = plan_of(ground, "chord-scales", 1)
    text = "F G A Bb C D Eb F G Ab Bb C D Eb F G A Bb C D Eb F G A"
    wanted = text.split()
    starts = [i for i, m in enumerate(_pitches(plan, 0)) if m == 53]
    line = _climb(plan, starts[0])
    assert names(plan.write(line)).split() == wanted
    assert plan.trellis.solve().log_weight(line) > float("-inf")


def _pitches(plan, index):
    return dict(plan.trellis.slots[index].columns)["pitch"]


def _climb(plan, start):
    """The choices of a line that always takes the next higher candidate."""
    line = [start]
    for index in range(1, len(plan.trellis.slots)):
        before = _pitches(plan, index - 1)[line[-1]]
        line.append(next(i for i, m in enumerate(_pitches(plan, index)) if m > before))
    return line


def test_scales_from_the_root_start_on_it():
    sheet = made("chord-scales", 2, form="three-chord blues")
    first = {n.onset: n for n in sheet.line.notes}
    assert all(str(first[c].degree) == "1" for c in sheet.chord_onsets())
    assert bar_names(sheet, 1) == "F G A Bb"


def test_a_long_scale_closes_on_its_root():
    sheet = made("chord-scales", 2, form="three-chord blues")
    last = [n for n in sheet.line.notes if n.onset < 16][-1]
    assert str(last.degree) == "1"
    assert last.duration == 2


def test_blanks_have_a_model_answer_that_arrives_by_step():
    sheet = made("targets", 3)
    notes = sheet.line.notes
    assert any(n.blank for n in notes)
    assert any(not n.blank for n in notes)
    for a, b in pairwise(notes):
        if a.blank and b.role == Role.TARGET:
            assert abs(b.pitch.midi - a.pitch.midi) <= 2


def test_rests_are_exact():
    sheet = made("space.2-2", 3)
    assert sum(p.end - p.start for p in sheet.promises if isinstance(p, Rests)) == 4 * 6
    assert {n.onset // 16 * 16 + 8 > n.onset for n in sheet.line.notes} == {True}


def test_an_answer_keeps_the_rhythm_of_its_call():
    sheet = made("call-and-response", 4)
    calls = [n.onset for n in sheet.line.notes if not n.blank and n.onset < 8]
    answers = [n.onset - 8 for n in sheet.line.notes if n.blank and n.onset < 16]
    assert len(set(calls) & set(answers)) * 2 >= len(calls)


def test_a_two_five_one_steps_home():
    sheet = made("two-five-one", 4, form="two five one", key="C")
    by_onset = {b.onset: (a, b) for a, b in pairwise(sheet.line.notes)}
    for at in (4, 8):
        before, note = by_onset[Fraction(at)]
        assert abs(note.pitch.midi - before.pitch.midi) <= 2
    assert str(by_onset[Fraction(8)][1].degree) in {"1", "3", "5", "9", "2"}


def test_no_two_five_one_is_said_plainly():
    with pytest.raises(InputError, match="no ii-V-I"):
        made("two-five-one", 4, form="three-chord blues")


def test_an_etude_has_a_motif_breath_and_an_ending():
    sheet = made("etude", 5, form="jazz blues")
    rhythm = [
        tuple((n.onset, n.duration) for n in sheet.line.cut(b.start, b.end).notes)
        for b in sheet.bars
    ]
    assert any(rhythm[i] == rhythm[i + 4] for i in range(8))
    rest = 1 - sum(n.duration for n in sheet.line.notes) / sheet.line.length
    assert 0.12 < rest < 0.43
    last = sheet.line.notes[-1]
    assert last.degree in sheet.change_at(last.onset).chord.four


def _phrases(notes):
    """The notes between rests of a beat or more."""
    found = [[notes[0]]]
    for a, b in pairwise(notes):
        found.append([b]) if b.onset - a.end >= 1 else found[-1].append(b)
    return found


def _moves(number):
    """The moves of each phrase, in semitones, of twelve etudes."""
    for seed in range(12):
        for phrase in _phrases(made("etude", number, seed).line.notes):
            yield [b.pitch.midi - a.pitch.midi for a, b in pairwise(phrase)]


def test_tastes_of_etudes():
    """The bars set for lines: turns at most .42, leaps at most .06, recovered by step in .85."""
    recovered = []
    for number in (3, 5, 7):
        phrases = list(_moves(number))
        moves = [m for phrase in phrases for m in phrase]
        pairs = [(a, b) for phrase in phrases for a, b in pairwise(phrase) if a and b]
        assert sum(a * b < 0 for a, b in pairs) / len(pairs) <= 0.42
        assert sum(abs(m) >= 5 for m in moves) / len(moves) <= 0.06
        recovered += [a * b < 0 and abs(b) <= 2 for a, b in pairs if abs(a) >= 5]
    assert sum(recovered) / len(recovered) >= 0.85


def test_seeds_give_different_lines():
    lines = {tuple(n.pitch for n in made("etude", 5, seed).line.notes) for seed in range(12)}
    assert len(lines) == 12


def test_a_planned_phrase_stands_word_for_word_in_the_bars_named():
    sheet = made("planned-phrase", 4)
    quotes = [p for p in sheet.promises if isinstance(p, Quotes)]
    bars = {sheet.bar_at(q.at).number for q in quotes}
    assert bars == set(map(int, re.findall(r"\d+", sheet.instruction)))
    assert len(quotes) >= 2
    told = {tuple(str(n.degree) for n in _in_bar(sheet, number)) for number in bars}
    assert len(told) == 1


def _in_bar(sheet, number):
    bar = next(b for b in sheet.bars if b.number == number)
    return [n for n in sheet.line.notes if bar.start <= n.onset < bar.end]


def test_a_planned_phrase_goes_only_where_its_notes_fit():
    """A natural thirteenth does not stand over a dominant with a flat ninth."""
    for seed in range(6):
        sheet = made("planned-phrase", 4, seed)
        quoted = {q.at for q in sheet.promises if isinstance(q, Quotes)}
        assert all("b9" not in sheet.change_at(at).text for at in quoted)


def test_scales_in_thirds_and_in_groups_of_four():
    """F A G B flat A C ..., F G A C A B flat C E flat: arithmetic on F Mixolydian."""
    first = {name: bar_names(made(f"chord-scales.{name}", 5), 1) for name in ("thirds", "groups")}
    assert first == {"thirds": "F A G Bb A C Bb D", "groups": "F G A C A Bb C Eb"}
    for name in first:
        assert broken(made(f"chord-scales.{name}", 6, form="aaba")) == ()


@pytest.mark.parametrize("family", ["approach-notes", "enclosures"])
def test_targets_stand_on_any_beat_from_level_six(family):
    beats = {5: set(), 6: set()}
    for number, seed in ((n, s) for n in (5, 6) for s in range(8)):
        sheet = made(family, number, seed)
        beats[number] |= {p.at % 4 for p in sheet.promises if isinstance(p, Approached)}
        assert broken(sheet) == ()
    assert beats[5] <= {0, 2}
    assert {1, 3} & beats[6]
