"""The library of phrases: what is understood of a phrase, where it fits, what becomes of it.

Checked against: the rules for ii-V-I phrases (common practice, no source): on the ii a chord tone
or the 9th, on the V its 3rd, 7th or b9 at or near the change, home on 1, 3, 5 or 9; degrees and
transpositions are arithmetic on the letters written here.
"""

from fractions import Fraction

import pytest

from changewright.chart.model import form_of
from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError
from changewright.lesson.compose import compose, grounds
from changewright.lesson.level import level
from changewright.lesson.phrase import phrase_of
from changewright.lesson.phrase_fit import chorus_of, in_reach, placements
from changewright.lesson.phrase_library import own_phrases, read_phrases
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.line import Role
from changewright.music.promise import Quotes
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from tests.unit.lesson.forms import KEYS, names, reading

TENOR = Player(instrument("tenor saxophone"))
HOME = """title: Home
key: C
| Dm7 | G7 | Cmaj7 |
melody | D4:1/2 F4 A4 C5 B4 A4 G4 F4 | D#4:1/2 E4 F4 G4 A4 Ab4 F#4 F4 | E4:2 -:2 |
"""


def read(text, name="mine"):
    return phrase_of(unroll(read_chart(text, name)), name)


def ground(chorus, number=5, player=TENOR, **more):
    return next(grounds(chorus, player, level(number), "etude", **more))


def placed(phrase, chorus):
    return placements(phrase, chorus_of(ground(chorus)))


def test_a_phrase_is_understood_against_its_harmony():
    phrase = read(HOME)
    degrees = [str(n.degree) for n in phrase.notes]
    assert degrees[:8] == ["1", "b3", "5", "b7", "6", "5", "4", "b3"]
    assert degrees[-2:] == ["b7", "3"]
    assert phrase.progression == "major ii-V-I, long"
    assert {"7 to 3", "chromatic approach"} <= set(phrase.tags)
    assert (str(phrase.entry), str(phrase.exit), phrase.directions) == ("1", "3", ("up", "down"))


def test_chromatic_notes_know_where_they_lead():
    phrase = read(HOME)
    leading = {i: n.leads for i, n in enumerate(phrase.notes) if n.leads is not None}
    assert leading == {8: 9, 13: 14, 14: 15}


@pytest.mark.parametrize("key", KEYS)
def test_a_phrase_goes_to_every_key(key):
    phrase = read(HOME)
    (place,) = [p for p in placed(phrase, reading("two five one", key)) if not p.adapted]
    assert [d.pc for d in place.degrees] == [n.degree.pc for n in phrase.notes]
    assert place.start == 0


def test_a_phrase_gives_way_to_the_other_mode():
    """D F A C over Dm7 becomes D F Ab C over Dm7(b5); the end on E becomes E flat."""
    plain = read(
        "title: x\nkey: C\n| Dm7 | G7 | Cmaj7 |\nmelody | D4 F4 A4 C5 | B4 A4 G4 F4 | E4:4 |\n"
    )
    minor = analyse(form_of([("Dm7(b5)", 4), ("G7(b9)", 4), ("Cm6", 4)]))
    (place,) = placed(plain, minor)
    assert place.adapted
    assert place.shape == (0, 3, 6, 10, 9, 6, 5, 3, 1)
    assert [str(d) for d in place.degrees] == ["1", "b3", "b5", "b7", "3", "b2", "1", "b7", "b3"]


def test_an_approach_note_keeps_its_distance_where_its_target_gives_way():
    plain = read(
        "title: x\nkey: C\n| Dm7 | G7 | Cmaj7 |\nmelody | A4:4 | B4:2 F4 | D#4:1/2 E4:2 -:3/2 |"
    )
    minor = analyse(form_of([("Dm7(b5)", 4), ("G7(b9)", 4), ("Cm6", 4)]))
    (place,) = placed(plain, minor)
    assert place.shape[-1] - place.shape[-2] == 1


def test_a_phrase_does_not_go_where_its_changes_are_not():
    assert placed(read(HOME), reading("three-chord blues", "F")) == ()


@pytest.mark.parametrize("phrase", own_phrases(), ids=lambda p: p.name)
def test_our_own_phrases_keep_the_rules(phrase):
    first, last = phrase.notes[0], phrase.notes[-1]
    assert phrase.rights == "own work"
    assert phrase.level <= 6
    assert first.inside or first.leads is not None
    assert last.inside
    assert last.degree.number in (1, 2, 3, 5, 7)
    for one in phrase.notes:
        assert one.inside or one.leads is not None or phrase.altered
    if "ii-V-I" in phrase.progression or "ii-V-i" in phrase.progression:
        _check_home(phrase)


def _check_home(phrase):
    by_span = [[n for n in phrase.notes if n.span == i] for i in range(3)]
    two, five, one = (notes[0] for notes in by_span)
    assert two.tone or two.degree.number == 2
    assert str(five.degree) in ("3", "b7", "b2")
    assert one.degree.number in (1, 2, 3, 5)
    for a, b in ((by_span[0][-1], five), (by_span[1][-1], one)):
        assert abs(a.midi - b.midi) <= 2
    last = phrase.notes[-1]
    assert str(last.degree).strip("b") in ("1", "2", "3", "5")
    at = last.at - phrase.spans[2].start
    assert at in (0, 2, Fraction(3, 2), Fraction(7, 2))
    tops = [n for n in phrase.notes if n.midi == max(n.midi for n in phrase.notes)]
    assert len({phrase.notes.index(n) for n in tops}) == 1


def test_our_own_phrases_cover_the_common_progressions_at_three_levels():
    found = {}
    for phrase in own_phrases():
        found.setdefault(phrase.progression, set()).add(min(max(phrase.level, 3), 5))
    wanted = {
        "major ii-V-I, long", "major ii-V-I, short", "minor ii-V-i, long", "minor ii-V-i, short",
        "turnaround", "blues, opening", "blues, into the four", "blues, coming home",
        "static dominant", "tonic major", "tonic minor",
    }  # fmt: skip
    assert wanted == set(found)
    assert all(len(levels) >= 2 for levels in found.values())


@pytest.mark.parametrize("name", ["clarinet", "trombone", "guitar", "tuba", "soprano voice"])
@pytest.mark.parametrize("family", ["two-five-one.phrases", "planned-phrase", "etude"])
def test_phrases_stand_word_for_word_in_any_key_on_any_instrument(name, family):
    player = Player(instrument(name))
    for key in ("F", "Db", "E"):
        sheet = compose(reading("two five one", key), player, level(5), family, 3)
        assert broken(sheet) == ()


def test_a_teachers_own_phrase_comes_first(tmp_path):
    (tmp_path / "mine.txt").write_text(HOME, "utf-8")
    mine = read_phrases(tmp_path)
    sheet = compose(
        reading("two five one", "Bb"), TENOR, level(5), "two-five-one.phrases", 1, phrases=mine
    )
    first = [n for n in sheet.line.notes if n.onset < 12 and n.role is Role.PHRASE]
    assert names(first).startswith("C Eb G Bb A G F Eb C# D Eb F G Gb E Eb D")
    assert any(isinstance(p, Quotes) for p in sheet.promises)


def test_an_octave_is_found_that_the_instrument_has():
    chorus = reading("two five one", "C")
    there = [p for p in placed(read(HOME), chorus) if not p.adapted]
    assert in_reach(there[0], ground(chorus, player=Player(instrument("tuba")), number=6))
    tiny = Player(instrument("tuba"), span=ground(chorus).span.parse("C3 G3"))
    assert not in_reach(there[0], ground(chorus, player=tiny))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("title: x\nkey: C\n| Dm7 |\n", "no melody"),
        ("title: x\nkey: C\n| N.C. |\nmelody | C4:4 |\n", "no chord"),
        ("title: x\nkey: C\n" + "| Dm7 |\n" * 9 + "melody | D4:4 |\n", "too long"),
    ],
)
def test_what_is_no_phrase_is_said_so(text, told):
    with pytest.raises(InputError, match=told):
        read(text)


def test_a_folder_without_phrases_is_said_so(tmp_path):
    with pytest.raises(InputError, match="holds 1 to"):
        read_phrases(tmp_path)
    with pytest.raises(InputError, match="no such folder"):
        read_phrases(tmp_path / "none")
