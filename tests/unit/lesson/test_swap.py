"""A phrase in the place of bars: the rest stays, nothing is broken, the label is another one."""

import pytest

from changewright.errors import InputError
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.lesson.swap import Swap, swapped, swaps_for
from changewright.music.keeping import broken
from changewright.music.line import Role
from changewright.music.promise import Quotes
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from changewright.usecases.charts import open_form
from changewright.usecases.lesson import Lesson, LessonRequest, plan_lesson, swap_ground

ASKED = LessonRequest("sandbar-timetable", "clarinet", 5, seed=3)


@pytest.fixture(scope="module")
def lesson() -> Lesson:
    return plan_lesson(ASKED)


def test_every_phrase_that_is_offered_stands_where_it_is_offered(lesson: Lesson) -> None:
    """The composer's examiner finds nothing wrong, and every promise of the sheet is kept."""
    ground = swap_ground(lesson.reading, Player(instrument("clarinet")), level(5))
    offered = swaps_for(ground)
    assert len(offered) > 8
    for index, (bar, phrases) in enumerate(offered.items()):
        phrase, sheet = phrases[index % len(phrases)], lesson.sheets[index % 3]
        new = swapped(sheet, ground, [Swap(bar, phrase.name)])
        assert broken(new) == (), (bar, phrase.name)
        placed = [n for n in new.line.notes if n.role is Role.PHRASE]
        start = next(b.start for b in new.bars if b.number == bar)
        assert [n.onset - start for n in placed] == list(phrase.onsets)
        assert any(isinstance(p, Quotes) for p in new.promises)


def test_the_notes_around_it_stay(lesson: Lesson) -> None:
    ground = swap_ground(lesson.reading, Player(instrument("clarinet")), level(5))
    sheet, phrase = lesson.sheets[0], swaps_for(ground)[3][0]
    new = swapped(sheet, ground, [Swap(3, phrase.name)])
    bars = {b.number: b for b in sheet.bars}
    first, last = bars[3].start, bars[3 + len(phrase.bars) - 1].end
    outside = [n for n in sheet.line.notes if n.onset >= last or n.end <= first]
    assert [n for n in new.line.notes if n.onset >= last or n.end <= first][: len(outside)]
    assert set(outside) <= set(new.line.notes)
    assert new.recipe.label != sheet.recipe.label
    assert swapped(sheet, ground, []) == sheet, "and without a swap nothing changes"


def test_a_lesson_is_made_with_its_swaps(lesson: Lesson) -> None:
    ground = swap_ground(analyse(open_form(ASKED.chart)), Player(instrument("clarinet")), level(5))
    phrase = swaps_for(ground)[3][0].name
    asked = LessonRequest("sandbar-timetable", "clarinet", 5, seed=3, swaps=((2, Swap(3, phrase)),))
    made = plan_lesson(asked)
    assert [a == b for a, b in zip(made.sheets, lesson.sheets, strict=True)] == [True, False, True]
    assert plan_lesson(asked).sheets == made.sheets, "the same again is the same"


@pytest.mark.parametrize("swap", [Swap(3, "no-such-phrase"), Swap(999, "climb")])
def test_what_does_not_fit_is_refused(lesson: Lesson, swap: Swap) -> None:
    ground = swap_ground(lesson.reading, Player(instrument("clarinet")), level(5))
    with pytest.raises(InputError, match="doesn't fit there"):
        swapped(lesson.sheets[0], ground, [swap])
