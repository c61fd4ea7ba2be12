"""A class of different players on one tune: a page for each, and parts that fit together."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from changewright.errors import InputError, PlanError, Refusal
from changewright.lesson.compose import compose
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.sheet import Sheet
from changewright.plan.backgrounds import STRANDS, background
from changewright.plan.curriculum import strands
from changewright.plan.skill import progression_of
from changewright.reading.model import Reading
from changewright.theory.instrument import Instrument

__all__ = ["ClassPlan", "Part", "Round", "Seat", "class_document", "plan_class"]

FORMAT = "changewright-class-plan/1"
_MOST_SEATS = 40
_LEAST_MINUTES, _MOST_MINUTES = 10, 240


@dataclass(frozen=True, slots=True)
class Seat:
    """One player of the class."""

    name: str
    instrument: Instrument
    level: int


@dataclass(frozen=True, slots=True)
class Part:
    """What a seat gets on paper: an exercise of its own level, and a background to play while
    others solo (``strand`` is the guide tone on which that background starts)."""

    seat: Seat
    own: Sheet
    background: Sheet
    strand: str


@dataclass(frozen=True, slots=True)
class Round:
    """Minutes [start, end): who solos, and what the others do."""

    start: int
    end: int
    title: str
    soloists: tuple[str, ...]
    what: str


@dataclass(frozen=True, slots=True)
class ClassPlan:
    """A lesson for a class on one tune at one tempo."""

    title: str
    key: str
    tempo_bpm: int
    parts: tuple[Part, ...]
    rounds: tuple[Round, ...]


def plan_class(
    reading: Reading,
    seats: Sequence[Seat],
    *,
    minutes: int = 60,
    seed: int = 1,
    feel: str = "swing",
) -> ClassPlan:
    """Plan a class over one tune, at the tempo of its least experienced player.

    Backgrounds are guide-tone lines in two strands, dealt out by turns from the highest
    instrument down: while one solos, every chord's third and seventh sound. Raises
    :class:`PlanError` for no players, :class:`Refusal` where a part has no line.
    """
    if not 1 <= len(seats) <= _MOST_SEATS:
        raise PlanError(f"a class of {len(seats)} can't be planned", remedy="Name 1 to 40 players.")
    if not _LEAST_MINUTES <= minutes <= _MOST_MINUTES:
        raise PlanError(f"{minutes} minutes can't be planned", remedy="Choose 10 to 240 minutes.")
    tempo = min(level(seat.level).usual_tempo_bpm for seat in seats)
    dealt = _dealt(seats)
    owns = [_own(reading, seat, tempo, seed, feel) for seat in seats]
    parts = tuple(
        Part(seat, own, _background(reading, seat, strand, own, tempo, feel), strand)
        for seat, own, strand in zip(seats, owns, dealt, strict=True)
    )
    return ClassPlan(reading.title, str(reading.key), tempo, parts, _rounds(seats, minutes))


def class_document(plan: ClassPlan) -> dict[str, Any]:
    """A class plan as plain values for JSON, the notes aside."""
    return {
        "format": FORMAT,
        "title": plan.title,
        "key": plan.key,
        "tempo_bpm": plan.tempo_bpm,
        "parts": [
            {
                "name": part.seat.name,
                "instrument": part.seat.instrument.id,
                "level": part.seat.level,
                "own": part.own.recipe.label,
                "own_title": part.own.title,
                "background": part.background.recipe.label,
                "strand": part.strand,
            }
            for part in plan.parts
        ],
        "rounds": [
            {
                "from": r.start,
                "to": r.end,
                "title": r.title,
                "soloists": list(r.soloists),
                "what": r.what,
            }
            for r in plan.rounds
        ],
    }


def _dealt(seats: Sequence[Seat]) -> list[str]:
    """The strands by turns from the highest instrument down."""
    height = {
        place: -seat.instrument.concert_range("comfort").low.midi
        for place, seat in enumerate(seats)
    }
    order = sorted(height, key=lambda place: (height[place], place))
    return [STRANDS[order.index(place) % 2] for place in range(len(seats))]


def _own(reading: Reading, seat: Seat, tempo: int, seed: int, feel: str) -> Sheet:
    """An exercise of the seat's level over this tune: the newest family of the level that has a
    line here."""
    kind = progression_of(reading)
    mine = [s.family for s in strands(seat.level) if s.progression == kind]
    others = [s.family for s in reversed(strands(seat.level))]
    refused: Refusal | InputError | None = None
    for family in dict.fromkeys((*reversed(mine), *others, "root-up")):
        try:
            return _compose(reading, seat, family, tempo, seed, feel)
        except (Refusal, InputError) as caught:
            refused = caught
    raise refused or PlanError("no family has a line here", remedy="Choose another tune.")


def _background(
    reading: Reading, seat: Seat, strand: str, own: Sheet, tempo: int, feel: str
) -> Sheet:
    recipe = replace(own.recipe, family=f"background.{strand}", instrument=seat.instrument.id)
    return background(reading, seat.instrument, strand, recipe=recipe, tempo_bpm=tempo, feel=feel)


def _compose(reading: Reading, seat: Seat, family: str, tempo: int, seed: int, feel: str) -> Sheet:
    player = Player(seat.instrument)
    return compose(
        reading, player, level(seat.level), family, seed, tempo_bpm=tempo, feel=feel, relax=True
    )


def _rounds(seats: Sequence[Seat], minutes: int) -> tuple[Round, ...]:
    """Time, own exercises, then solos in turn over the backgrounds, and all together."""
    names = [seat.name for seat in seats]
    head = max(2, minutes // 10)
    own = max(3, minutes // 4)
    close = max(2, minutes // 10)
    left = minutes - head - own - close
    groups = _groups(names, max(1, left // 2))
    ends = [head + own + round(left * (n + 1) / len(groups)) for n in range(len(groups))]
    starts = [head + own, *ends]
    tutti = "Backgrounds together, once soft, once with the band."
    return (
        Round(0, head, "Time", (), "Clap two and four, count the form aloud; then roots only."),
        Round(head, head + own, "Everyone's own page", (), "Softly, side by side; walk round."),
        *(
            Round(start, end, "Solo", group, "One chorus each; the others play their backgrounds.")
            for start, end, group in zip(starts, ends, groups, strict=False)
        ),
        Round(minutes - close, minutes, "All together", tuple(names), tutti),
    )


def _groups(names: Sequence[str], most: int) -> list[tuple[str, ...]]:
    """The names in as many groups as there is time for, as even as can be."""
    count = min(len(names), most)
    return [
        tuple(names[n * len(names) // count : (n + 1) * len(names) // count]) for n in range(count)
    ]
