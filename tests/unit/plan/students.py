"""Evidence for tests, a take a line."""

from datetime import UTC, date, datetime, time

from changewright.plan.curriculum import goal_bpm, key_order, strands
from changewright.plan.evidence import Count, Evidence, Grade
from changewright.plan.ladder import Climb
from changewright.plan.skill import Strand

__all__ = ["CLIMB", "FIRST", "GOAL", "SECOND", "heard"]

FIRST, SECOND = strands(1)[:2]
GOAL = goal_bpm(FIRST)
CLIMB = Climb(1, key_order("horns", "F"))


def heard(
    strand: Strand,
    key: str,
    on: date,
    *,
    bpm: int = GOAL,
    grade: Grade = Grade.MET,
    part: bool = False,
) -> Evidence:
    at = datetime.combine(on, time(18), UTC)
    right = {Grade.LOST: 20, Grade.SHAKY: 40, Grade.MET: 46, Grade.EASY: 48}[grade]
    counts = (Count("note", right, 48, 50),)
    name = f"{on}/{strand.family}/{key}/{bpm}"
    return Evidence(strand.at(key, bpm), at, name, counts, grade, 0.95, part)
