"""Levels as data, and players. Checked against: the tables of levels and instruments of school-band
practice (common practice, no source)."""

from dataclasses import replace
from itertools import pairwise, product

import pytest

from changewright.errors import InputError, Refusal, UnknownName
from changewright.lesson.compose import compose
from changewright.lesson.level import level, level_from_toml, levels
from changewright.lesson.own_level import check_level, read_level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.theory.instrument import Span, instrument
from tests.unit.lesson.forms import reading


def text(number=3):
    from importlib.resources import files

    return files("changewright.lesson").joinpath(f"levels/{number}.toml").read_text("utf-8")


def test_eight_levels_with_growing_demands():
    assert sorted(levels()) == list(range(1, 9))
    assert [levels()[n].name for n in (1, 8)] == ["First changes", "Performer"]
    leaps = [levels()[n].widest_leap for n in sorted(levels())]
    assert leaps == sorted(leaps)


def test_an_unknown_level_lists_those_we_know():
    with pytest.raises(UnknownName, match="Clear chords"):
        level(9)


def test_a_teacher_writes_a_level(tmp_path):
    own = tmp_path / "thursday.toml"
    own.write_text(text(3).replace("widest_leap = 10", "widest_leap = 5"), "utf-8")
    mine = read_level(own)
    assert mine.widest_leap == 5
    sheet = compose(
        reading("jazz blues"), Player(instrument("alto saxophone")), mine, "free-rhythm", 1
    )
    assert broken(sheet) == ()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("widest_leap = 10", 'widest_leap = "wide"', "can't use widest_leap"),
        ("widest_leap = 10", "", "misses widest_leap"),
        ("widest_leap = 10", "widest_leap = 10\nwidest_lep = 3", "unknown widest_lep"),
        ('stage = "beginner"', 'stage = "novice"', "a stage is one of"),
        ("tempo_bpm = [80, 120]", "tempo_bpm = [120, 80]", "smaller number first"),
        ('note_values = ["1/2"', 'note_values = ["1/0"', "can't use note_values"),
        ("number = 3", "number = ", "not TOML"),
    ],
)
def test_a_faulty_level_says_what_is_wrong(old, new, said):
    with pytest.raises(InputError, match=said):
        level_from_toml(text(3).replace(old, new), "thursday.toml")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"F", "Bb"', '"H9", "Bb"', "'H9' is no key"),
        ('"R1", "R2"', '"R1", "R77"', "'R77' is none of R1, R2"),
        ('"root-up", "reordered"', '"root-up", "sideways"', "unknown family"),
        ('"root-up", "reordered"', '"root-up", "etude"', ""),
        ('first_families = ["root-up"', 'first_families = ["planned-phrase"', "begins at level"),
        ("[family.targets]", "[family.sideways]", "nothing to set for"),
        ("number = 3", "number = 9", "whole number from 1 to 8"),
        ("phrase_bars = [3, 1]", "phrase_bars = [0, 1]", "at least one bar to play"),
        ("notes_a_bar = [3, 6]", "notes_a_bar = [6, 3]", "smaller number first"),
        ("neighbour = true", "neighbour = 1", "write true or false"),
        ("neighbour = true", "neighbor = true", "neighbor can't be set"),
        ('orders = "turned"', 'orders = "anyhow"', "one of root, turned"),
        ('orders = "turned"', 'orders = ["turned"]', "one of root, turned"),
        ("phrase_bars = [2, 2]", "phrase_bars = [3, 2]", "in brackets, ascending"),
        ('figures = ["below"', 'figures = ["beside"', "some of below"),
        ("join = 7", "join = 70", "a whole number from 1 to 24"),
        ("density = 0.4", 'density = "much"', "a number from 0 to 1"),
    ],
)
def test_a_level_that_nothing_composes_by_is_named(tmp_path, old, new, said):
    own = tmp_path / "thursday.toml"
    assert old in text(3)
    own.write_text(text(3).replace(old, new, 1), "utf-8")
    if not said:
        assert read_level(own) != level(3)
        return
    with pytest.raises(InputError, match=said) as told:
        read_level(own)
    assert told.value.where.file == "thursday.toml"


def test_the_eight_levels_hold_what_is_asked_of_a_teachers_own():
    for one in levels().values():
        check_level(one)


def test_the_label_tells_a_level_of_the_teachers_own():
    played, over = Player(instrument("clarinet")), reading("jazz blues")
    plain = compose(over, played, level(3), "root-up", 1)
    own = compose(over, played, replace(level(3), widest_leap=9), "root-up", 1)
    assert plain.recipe.own_level == "" != own.recipe.own_level
    assert plain.recipe.label != own.recipe.label


def test_a_missing_or_huge_level_file(tmp_path):
    with pytest.raises(InputError, match="can't read"):
        read_level(tmp_path / "none.toml")
    huge = tmp_path / "huge.toml"
    huge.write_text("#" * 200_000, "utf-8")
    with pytest.raises(InputError, match="too long"):
        read_level(huge)


def test_ranges_come_from_the_stage_the_level_or_the_player():
    trumpet = instrument("trumpet")
    assert [str(s) for s in Player(trumpet).spans(level(1))] == ["Bb3 to Bb4", "Bb3 to C5"]
    assert [str(s) for s in Player(trumpet, stage="intermediate").spans(level(1))] == ["G3 to G5"]
    own = Span.parse("C4 A4")
    assert Player(trumpet, span=own).spans(level(6)) == (own,)


def test_a_range_too_small_is_refused_with_bar_beat_rule_and_repair():
    tiny = Player(instrument("trumpet"), span=Span.parse("C4 Eb4"))
    with pytest.raises(Refusal) as caught:
        compose(reading("three-chord blues"), tiny, level(1), "reordered", 1)
    assert caught.value.bar == 1
    assert caught.value.beat == "1"
    assert "range" in caught.value.rules
    assert caught.value.repairs


def test_relax_takes_the_smallest_repair_and_says_so():
    narrow = Player(instrument("clarinet"), span=Span.parse("D4 G4"))
    arguments = reading("three-chord blues"), narrow, level(2), "guide-tones.third", 1
    with pytest.raises(Refusal) as caught:
        compose(*arguments)
    sheet = compose(*arguments, relax=True)
    assert f"Relaxed: {caught.value.repairs[0]}" in sheet.instruction
    assert broken(sheet) == ()


def test_awkward_notes_are_avoided_at_the_level_and_allowed_later():
    tenor = Player(instrument("tenor saxophone"))
    written = {str(p + tenor.instrument.written_up) for p in tenor.awkward(level(4))}
    assert {"Bb3", "B3", "C#4", "E6", "F6"} <= written
    assert tenor.awkward(level(5)) == ()


def test_a_register_is_no_awkward_note():
    """The clarinet's throat notes stay; its little-finger slides are kept away from."""
    clarinet = Player(instrument("clarinet"))
    written = {str(p + clarinet.instrument.written_up) for p in clarinet.awkward(level(2))}
    assert written == {"B3", "C#4"}
    horn = Player(instrument("horn"))
    high = {str(p + horn.instrument.written_up) for p in horn.awkward(level(4))}
    assert high == {"C#5", "D5", "Eb5", "E5"}


def test_beginners_hardly_ever_cross_a_break_in_a_hurry():
    """Saxophones: C sharp 5 to D 5, written. Source: common practice, no source."""
    alto = Player(instrument("alto saxophone"))
    pairs = {frozenset(p) for p in alto.crossings(level(3))}
    assert frozenset((64, 65)) in pairs
    assert alto.crossings(level(4)) == ()
    free = Player(replace(alto.instrument, crossings=()))
    assert _quick(alto, pairs) * 3 <= _quick(free, pairs)


def _quick(player, pairs):
    quick = 0
    for key, seed in product(("F", "Eb", "Ab"), range(4)):
        notes = compose(reading("jazz blues", key), player, level(3), "etude", seed).line.notes
        quick += sum(
            {a.pitch.midi, b.pitch.midi} in pairs and a.duration < 1 for a, b in pairwise(notes)
        )
    return quick


def test_a_tempo_out_of_reach_is_refused():
    with pytest.raises(InputError, match="tempo of 900"):
        compose(
            reading("three-chord blues"),
            Player(instrument("flute")),
            level(1),
            "root-up",
            1,
            tempo_bpm=900,
        )
