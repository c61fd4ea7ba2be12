from datetime import date, timedelta

from changewright.plan.curriculum import keys_for, rungs, strands
from changewright.plan.evidence import Evidence, Grade
from changewright.plan.ladder import Climb, Novelty, next_rung
from changewright.plan.progress import Mark, Progress, Stand
from tests.stores import NOW
from tests.unit.plan.students import CLIMB, FIRST, GOAL, SECOND, heard

MONDAY = date(2026, 3, 2)
KEYS = keys_for(FIRST, CLIMB.order)


def test_a_beginner_begins_slowly_in_the_first_key() -> None:
    rung = next_rung(Progress(()), CLIMB)
    assert rung is not None
    assert rung.skill == FIRST.at(KEYS[0], rungs(GOAL)[0])
    assert rung.novelty is Novelty.FAMILY


def test_tempo_first_then_a_second_key_then_the_next_family() -> None:
    """Source: domain reference 1.8: never two of these at once."""
    takes: list[Evidence] = []
    seen: list[tuple[str, Novelty]] = []
    day = MONDAY
    for _ in range(40):
        rung = next_rung(Progress(takes), CLIMB)
        assert rung is not None
        if rung.skill.strand != FIRST:
            break
        seen.append((rung.skill.key, rung.novelty))
        takes.append(heard(FIRST, rung.skill.key, day, bpm=rung.skill.tempo_bpm))
        day += timedelta(days=1)
    ladder = len(rungs(GOAL))
    assert seen[0] == (KEYS[0], Novelty.FAMILY)
    assert seen[1:ladder] == [(KEYS[0], Novelty.TEMPO)] * (ladder - 1)
    assert seen[ladder] == (KEYS[1], Novelty.KEY)
    assert {key for key, _ in seen} == set(KEYS[:2])
    assert rung.skill.strand == SECOND
    assert rung.novelty is Novelty.FAMILY


def test_a_missed_rung_is_not_new_again() -> None:
    first = rungs(GOAL)[0]
    progress = Progress([heard(FIRST, KEYS[0], MONDAY, bpm=first, grade=Grade.LOST)])
    rung = next_rung(progress, CLIMB)
    assert rung is not None
    assert rung.skill == FIRST.at(KEYS[0], first)
    assert rung.novelty is Novelty.NONE


def test_the_teacher_may_skip_a_strand_or_call_it_solid() -> None:
    skipping = Climb(1, CLIMB.order, skip=frozenset([FIRST]))
    solid = Progress((), [Mark(FIRST, Stand.SOLID, NOW)])
    for rung in (next_rung(Progress(()), skipping), next_rung(solid, CLIMB)):
        assert rung is not None
        assert rung.skill.strand == SECOND


def test_a_level_that_is_passed_goes_on_through_the_twelve_keys() -> None:
    takes = [
        heard(strand, key, MONDAY + timedelta(days=n))
        for strand in strands(1)
        for n, key in enumerate(keys_for(strand, CLIMB.order)[:2])
    ]
    rung = next_rung(Progress(takes), CLIMB)
    assert rung is not None
    assert (rung.skill.strand, rung.skill.key) == (FIRST, KEYS[2])
    assert rung.novelty is Novelty.KEY


def test_twelve_keys_of_everything_leave_nothing_new() -> None:
    takes = [
        heard(strand, key, MONDAY + timedelta(days=n))
        for strand in strands(1)
        for n, key in enumerate(keys_for(strand, CLIMB.order))
    ]
    assert next_rung(Progress(takes), CLIMB) is None
