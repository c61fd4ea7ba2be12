from dataclasses import replace
from datetime import date, timedelta

import pytest

from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError
from changewright.lesson.family import family
from changewright.music.keeping import broken
from changewright.page.plan_sheet import plan_pdf, plan_png
from changewright.plan.backgrounds import background_degrees
from changewright.plan.class_plan import Seat, plan_class
from changewright.plan.lesson_plan import Heard, first_lesson, next_lesson
from changewright.plan.planner import plan_week, replan
from changewright.plan.printed import class_page, lesson_page, week_page
from changewright.plan.progress import Progress
from changewright.plan.week import Kind, TuneGoal, WeekRequest
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.instrument import instrument
from tests.unit.plan.students import CLIMB, FIRST, GOAL, heard

THURSDAY = date(2026, 3, 5)
FRIDAY = THURSDAY + timedelta(days=1)
TWENTY = WeekRequest(FRIDAY, 20, (0, 1, 2, 4, 5), 3, CLIMB)


def read(name: str) -> Reading:
    return analyse(unroll(shelf_chart(name)))


def test_the_first_lesson_takes_a_quarter_of_an_hour_and_ends_improvising_on_a_blues() -> None:
    plan = first_lesson(THURSDAY)
    assert plan.minutes == 15
    last = plan.segments[-1]
    assert last.title == "Improvise"
    assert last.skill is not None
    assert last.skill.strand.progression == "blues"
    assert "blues" in last.what


@pytest.mark.parametrize("minutes", range(10, 181))
def test_a_lesson_fills_its_minutes_without_gaps(minutes: int) -> None:
    progress = Progress([heard(FIRST, "Fm", THURSDAY)])
    for plan in (first_lesson(THURSDAY, minutes=minutes),
                 next_lesson(THURSDAY, progress, CLIMB, minutes=minutes)):  # fmt: skip
        ends = [0, *(s.end for s in plan.segments)]
        assert [s.start for s in plan.segments] == ends[:-1]
        assert plan.minutes == minutes
        assert all(s.end > s.start for s in plan.segments)


def test_a_first_lessons_exercises_exist() -> None:
    for segment in first_lesson(THURSDAY).segments:
        if segment.family:
            assert family(segment.family)[0].since == 1


@pytest.mark.parametrize("minutes", [0, 9, 181, 10_000])
def test_a_lesson_nobody_gives_is_refused(minutes: int) -> None:
    with pytest.raises(InputError, match="10 to 180"):
        first_lesson(THURSDAY, minutes=minutes)


def test_the_next_lesson_starts_from_what_was_heard() -> None:
    takes = [Heard("Root up", THURSDAY, "steady time", "bar 9 came a beat early")] * 3
    progress = Progress([heard(FIRST, "Fm", date(2026, 3, 2), bpm=GOAL)])
    plan = next_lesson(date(2026, 3, 12), progress, CLIMB, takes, first_note="long tones hurt")
    text = " ".join(s.what for s in plan.segments)
    assert text.count("bar 9 came a beat early") == 2  # two corrections a lesson, no more
    assert "long tones hurt" in text
    theme = plan.segments[2]
    assert theme.skill is not None
    assert theme.skill.key == "Bbm"  # the second key of what is met in the first
    assert "B flat minor" in theme.what


@pytest.mark.parametrize("name", shelf())
def test_one_strand_has_the_third_where_the_other_has_the_seventh(name: str) -> None:
    chords = [c.chord for c in unroll(shelf_chart(name)).changes if not c.chord.is_silent]
    one, other = background_degrees(chords)
    for chord, a, b in zip(chords, one, other, strict=True):
        assert a != b
        if len(chord.guide_tones) == 2:
            assert {a, b} == set(chord.guide_tones)


def test_strands_cross_so_that_both_move_by_step_through_a_two_five_one() -> None:
    """Source: common practice: 7 falls to 3 where roots fall by fifths (domain 5.3, F5)."""
    chords = [c.chord for c in unroll(shelf_chart("tidemark-drill")).changes]
    one, other = background_degrees(chords[:3])
    assert [str(d) for d in one] == ["b3", "b7", "3"]
    assert [str(d) for d in other] == ["b7", "3", "7"]


SEATS = [
    Seat("Clarinet", instrument("clarinet"), 2),
    Seat("Tenor saxophone", instrument("tenor saxophone"), 1),
    Seat("Trombone", instrument("trombone"), 4),
    Seat("Flute", instrument("flute"), 3),
    Seat("Guitar", instrument("guitar"), 5),
]


@pytest.mark.parametrize("name", ["quayside-blues", "harbourmasters-round", "unlit-pontoon"])
def test_a_class_has_parts_at_each_level_that_fit_together(name: str) -> None:
    plan = plan_class(read(name), SEATS)
    assert [part.own.recipe.level for part in plan.parts] == [s.level for s in SEATS]
    assert {part.own.tempo_bpm for part in plan.parts} == {plan.tempo_bpm}
    assert {part.strand for part in plan.parts} == {"third", "seventh"}
    for part in plan.parts:
        assert broken(part.own) == ()
        assert broken(part.background) == ()
        assert part.own.instrument == part.background.instrument == part.seat.instrument
        assert len(part.own.bars) == len(part.background.bars)
    for onset in plan.parts[0].background.chord_onsets():
        heard_now = {
            str(note.degree)
            for part in plan.parts
            for note in part.background.line.notes
            if note.onset <= onset < note.end
        }
        assert len(heard_now) == 2, onset


@pytest.mark.parametrize("minutes", [10, 45, 60, 240])
@pytest.mark.parametrize("count", [1, 5, 40])
def test_everyone_solos_and_the_hour_is_full(minutes: int, count: int) -> None:
    seats = [Seat(f"Flute {n}", SEATS[3].instrument, 1) for n in range(count)]
    plan = plan_class(read("quayside-blues"), seats, minutes=minutes)
    solos = [name for r in plan.rounds if r.title == "Solo" for name in r.soloists]
    assert solos == [seat.name for seat in seats]
    assert plan.rounds[0].start == 0
    assert plan.rounds[-1].end == minutes
    assert all(a.end == b.start for a, b in zip(plan.rounds, plan.rounds[1:], strict=False))
    assert all(r.end > r.start for r in plan.rounds)


def test_an_empty_class_is_refused() -> None:
    with pytest.raises(InputError, match="1 to 40"):
        plan_class(read("quayside-blues"), [])


def test_twenty_minutes_a_day_for_five_days_with_a_lesson_on_thursday() -> None:
    """Source: domain reference 1.5: 3 minutes time, 7 theme, 7 use it, 3 free."""
    week = plan_week(Progress(()), TWENTY)
    assert [day.name for day in week.days] == [
        "Friday", "Saturday", "Monday", "Tuesday", "Wednesday",
    ]  # fmt: skip
    assert week.lesson == date(2026, 3, 12)
    assert [(i.kind, i.minutes) for i in week.days[0].items] == [
        (Kind.WARM_UP, 3),
        (Kind.NEW, 7),
        (Kind.USE, 7),
        (Kind.FREE, 3),
    ]
    assert week.days[-1].items[-1].title == "Record for the lesson"
    assert len({day.items[0].title for day in week.days}) == 5  # another key every day


def test_the_tune_takes_more_room_as_the_concert_comes() -> None:
    def share(days: int) -> int:
        tune = TuneGoal("Quayside Blues", "F", 84, FRIDAY + timedelta(days=days))
        week = plan_week(Progress(()), WeekRequest(FRIDAY, 25, (4,), 3, CLIMB, tune))
        return sum(i.minutes for i in week.items if i.kind is Kind.TUNE)

    assert share(3) > share(20) > share(60)


def test_a_missed_day_is_told_and_what_was_begun_stays_the_one_thing() -> None:
    week = plan_week(Progress(()), TWENTY)
    again = replan(week, Progress(()), TWENTY, date(2026, 3, 9), [date(2026, 3, 7)])
    assert again.because[0].startswith("Saturday was missed")
    assert [i.skill for d in again.days[2:] for i in d.items if i.kind is Kind.THEME] == [
        week.new
    ] * 3
    first = replan(week, Progress(()), TWENTY, date(2026, 3, 7), [FRIDAY])
    assert [i.kind for i in first.days[1].items].count(Kind.NEW) == 1


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("minutes", [5, 20, 60])
def test_a_week_is_one_page(paper: str, minutes: int) -> None:
    takes = [heard(FIRST, key, THURSDAY - timedelta(days=40)) for key in ("Fm", "Bbm", "Ebm")]
    days = tuple(range(7))
    tune = TuneGoal("Quayside Blues", "F", 84, FRIDAY + timedelta(days=20))
    week = plan_week(Progress(takes), WeekRequest(FRIDAY, minutes, days, 3, CLIMB, tune))
    sheet = week_page(week, "Clarinet, Thursday")
    assert len(plan_png(sheet, paper=paper, dots_an_inch=20)) == 1  # type: ignore[arg-type]


def test_every_plan_prints_and_the_same_plan_prints_the_same_bytes() -> None:
    pages = [
        week_page(plan_week(Progress(()), TWENTY)),
        lesson_page(first_lesson(THURSDAY), "Clarinet, Thursday"),
        class_page(plan_class(read("quayside-blues"), SEATS)),
    ]
    for page in pages:
        assert plan_pdf(page).startswith(b"%PDF")
        assert plan_pdf(page) == plan_pdf(page)


def test_a_transposing_player_is_told_both_keys() -> None:
    """Source: a B-flat instrument reads a major second above concert (Grove, 'Transposing')."""
    climb = replace(CLIMB, player=instrument("clarinet"))
    week = plan_week(Progress(()), replace(TWENTY, climb=climb))
    new = next(i for i in week.items if i.kind is Kind.NEW)
    assert new.title.endswith("in concert F minor, written G minor")
    assert "written G minor" in week.send
    flute = plan_week(
        Progress(()), replace(TWENTY, climb=replace(CLIMB, player=instrument("flute")))
    )
    assert all("written" not in item.title for item in flute.items)
