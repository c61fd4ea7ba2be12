"""One exercise for a mixed class: a shared line sounds the same, and nobody leaves his range."""

import pytest

from changewright.errors import InputError
from changewright.lesson.level import level
from changewright.music.keeping import broken
from changewright.music.notation import notate
from changewright.reading.analyse import analyse
from changewright.usecases.book_editions import edition
from changewright.usecases.book_lines import Asked, ReaderLine, lines_for
from changewright.usecases.book_proof import decisions
from changewright.usecases.charts import open_form

NAMES = ("C treble", "B-flat", "E-flat", "F", "C bass")
FAMILIES = ("root-up", "guide-tones", "approach-notes", "chord-scales", "etude")


def asked(family: str, rung: int = 4, key: str = "F", chart: str = "quayside-blues") -> Asked:
    form = open_form(chart, key)
    return Asked(analyse(form), level(rung), family, 1, None, form.feel, form.digest)


def lines(family: str, rung: int = 4, key: str = "F") -> list[ReaderLine]:
    return lines_for(asked(family, rung, key), [edition(name) for name in NAMES])


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("key", ["F", "Gb", "E"])
def test_nobody_leaves_his_range_and_every_promise_is_kept(family, key):
    for line in lines(family, key=key):
        player, stage = line.edition.instrument, level(4).stage
        span = player.concert_range(stage)
        assert all(note.pitch in span for note in line.sheet.line.notes)
        assert broken(line.sheet) == ()


@pytest.mark.parametrize("family", FAMILIES)
def test_who_shares_a_line_sounds_it_octaves_apart(family):
    made = {line.edition.id: line for line in lines(family)}
    for line in made.values():
        leader = made[line.leader.id]
        apart = {
            a.pitch.midi - b.pitch.midi
            for a, b in zip(line.sheet.line.notes, leader.sheet.line.notes, strict=True)
        }
        assert apart == {12 * line.octaves}
        assert line.sheet.recipe == leader.sheet.recipe


def test_a_group_shares_where_ranges_allow_it():
    assert sum(line.leader.id == "c-treble" for line in lines("guide-tones")) >= 3


def test_one_edition_gets_what_a_lesson_would_give():
    (line,) = lines_for(asked("root-up", 2), [edition("clarinet")])
    assert line.leader == line.edition
    assert line.octaves == 0
    assert line.sheet.instrument.id == "clarinet"


def test_what_can_t_be_composed_names_exercise_and_edition():
    with pytest.raises(InputError, match=r"two-five-one at level 4 over .* in F .*for B-flat"):
        lines_for(asked("two-five-one"), [edition("B-flat")])


def test_the_proof_tells_moves_and_respellings():
    for line in lines("guide-tones", key="E"):
        told = decisions(line, notate(line.sheet))
        assert any("read in D♭ major, not C♯ major" in one for one in told) == (
            line.edition.id == "e-flat"
        )
        assert any("moved" in one and "octave" in one for one in told) == (line.octaves != 0)


def test_the_proof_tells_every_note_that_is_not_a_plain_transposition():
    for line in lines("chord-scales", key="Gb"):
        notation = notate(line.sheet)
        plain = {
            (mark.source.pitch + notation.up).name == mark.pitch.name
            for bar in notation.bars
            for mark in bar.marks
            if mark.source is not None and mark.pitch is not None
        }
        told = [one for one in decisions(line, notation) if " for " in one]
        assert (False in plain) <= bool(told)
        if not told:
            assert plain == {True}
