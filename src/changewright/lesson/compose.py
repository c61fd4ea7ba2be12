"""Compose one exercise: the main verb of the room."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from hashlib import sha256
from random import Random
from typing import TypeVar

import numpy as np

from changewright.errors import InputError, Refusal
from changewright.lesson.family import Family, Plan, families, family
from changewright.lesson.ground import Ground
from changewright.lesson.level import Level, levels
from changewright.lesson.phrase import Phrase
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.line import Line, Note
from changewright.music.sheet import Recipe, Sheet
from changewright.reading.model import Reading
from changewright.theory.instrument import Span
from changewright.theory.pitch import Pitch
from changewright.theory.spelling import tidy

__all__ = ["compose", "compose_many", "grounds", "plan_of"]

T = TypeVar("T")


def compose(
    reading: Reading,
    player: Player,
    level: Level,
    family: str,
    seed: int,
    *,
    tempo_bpm: int | None = None,
    feel: str = "swing",
    chart: str = "",
    relax: bool = False,
    phrases: tuple[Phrase, ...] = (),
    melody: Line | None = None,
) -> Sheet:
    """Compose an exercise of a family over a chorus; the same arguments give the same sheet.

    ``family`` is an id or ``id.variant``; ``tempo_bpm`` overrides the level's band; ``chart``
    is the digest of the chart's text, otherwise one is taken of the changes. ``phrases`` are a
    teacher's own, used beside ours; ``melody`` is the tune's, for playing round it. Raises
    :class:`Refusal` where the rules leave no line; with ``relax`` the smallest relaxation
    that works is taken instead, and the sheet says so.
    """
    found, _ = _family_of(family)

    def written(plan: Plan, ground: Ground) -> Sheet:
        return _sheet(found, plan, ground, _recipe(ground, family, seed, chart), feel)

    def relaxed(plan: Plan, ground: Ground) -> Sheet:
        return _relaxed(found, plan, ground, _recipe(ground, family, seed, chart), feel)

    tried = grounds(reading, player, level, family, tempo_bpm, phrases, melody)
    return _first(
        found, tried, lambda: _dice(level, family, seed), written, relaxed if relax else None
    )


def compose_many(
    reading: Reading, player: Player, level: Level, family: str, seed: int, count: int
) -> list[Sheet]:
    """So many sheets of one plan: its rhythm, motifs and targets are the same in all of them, the
    lines are drawn together, each with its own chance. They have one recipe, which makes
    :func:`compose`'s sheet again and none of these.
    """
    found, _ = _family_of(family)

    def written(plan: Plan, ground: Ground) -> list[Sheet]:
        recipe = _recipe(ground, family, seed, "")
        lines = _draw(plan, recipe, level, count)
        return [_written(found, plan, ground, recipe, "swing", line) for line in lines]

    tried = grounds(reading, player, level, family)
    return _first(found, tried, lambda: _dice(level, family, seed), written)


def _first(
    found: Family,
    tried: Iterable[Ground],
    dice: Callable[[], Random],
    write: Callable[[Plan, Ground], T],
    relax: Callable[[Plan, Ground], T] | None = None,
) -> T:
    """What ``write`` makes on the first ground that leaves a line; where none does, what ``relax``
    makes on the last that could be planned. Every ground is planned with the same chances."""
    refusal: Refusal | None = None
    stuck: tuple[Plan, Ground] | None = None
    for ground in tried:
        try:
            plan = found.plan(ground, dice())
            stuck = plan, ground
            return write(plan, ground)
        except Refusal as caught:
            refusal = caught
    if refusal is None:
        raise InputError("the chart has no chord to play on", remedy="Write at least one chord.")
    if relax is None or stuck is None:
        raise refusal
    return relax(*stuck)


def grounds(
    reading: Reading,
    player: Player,
    level: Level,
    name: str,
    tempo_bpm: int | None = None,
    phrases: tuple[Phrase, ...] = (),
    melody: Line | None = None,
) -> Iterator[Ground]:
    """The grounds to try, from what is asked for to what a small range allows."""
    found, variant = _family_of(name)
    if level.number < found.since:
        raise InputError(
            f"{name} begins at level {found.since}, not level {level.number}",
            remedy=f"Ask for level {found.since} or a family that this level has: "
            f"{', '.join(f.id for f in families().values() if f.since <= level.number)}.",
        )
    tempo = level.usual_tempo_bpm if tempo_bpm is None else tempo_bpm
    if not 20 <= tempo <= 400:
        raise InputError(
            f"a tempo of {tempo} can't be played with", remedy="Choose 20 to 400 quarters a minute."
        )
    for fallback in found.fallbacks:
        for span, awkward, conceded in _ways(found, player, level):
            ground = Ground(
                reading=reading,
                level=level,
                instrument=player.instrument,
                span=span,
                awkward=awkward,
                conceded=conceded,
                tempo_bpm=tempo,
                breath_s=player.breath(level),
                variant=variant,
                fallback=fallback,
                spelling=player.manner(level),
                phrases=phrases,
                melody=melody,
                crossings=player.crossings(level),
            )
            if ground.patches:
                yield ground


def _ways(
    found: Family, player: Player, level: Level
) -> Iterator[tuple[Span, tuple[Pitch, ...], tuple[Pitch, ...]]]:
    """Ranges, with the awkward notes kept away from; then without, before a family gives up
    more."""
    awkward = player.awkward(level) if found.avoids else ()
    for span in player.spans(level):
        yield span, awkward, ()
    inside = tuple(pitch for pitch in awkward if any(pitch in s for s in player.spans(level)))
    if inside:
        for span in player.spans(level):
            yield span, (), inside


def plan_of(ground: Ground, name: str, seed: int) -> Plan:
    """The plan of a family on a ground, before any note is drawn."""
    return _family_of(name)[0].plan(ground, _dice(ground.level, name, seed))


def _family_of(name: str) -> tuple[Family, str]:
    return family(name)


def _dice(level: Level, name: str, seed: int) -> Random:
    return Random(_number(level, name, seed))


def _number(level: Level, name: str, seed: int) -> int:
    text = f"{name}|{level.number}|{level.name}|{seed}"
    return int.from_bytes(sha256(text.encode()).digest()[:8], "big")


def _recipe(ground: Ground, name: str, seed: int, chart: str) -> Recipe:
    return Recipe(
        chart=chart or _digest(ground.reading, ground.melody),
        family=name,
        level=ground.level.number,
        key=str(ground.reading.key),
        instrument=ground.instrument.id,
        seed=seed,
        phrases=_phrases_digest(ground.phrases),
        tempo_bpm=0 if ground.tempo_bpm == ground.level.usual_tempo_bpm else ground.tempo_bpm,
        own_level=_own_level_digest(ground.level),
    )


def _own_level_digest(asked: Level) -> str:
    if levels().get(asked.number) == asked:
        return ""
    return sha256(repr(asked).encode()).hexdigest()[:16]


def _digest(reading: Reading, melody: Line | None) -> str:
    told = "|".join(
        f"{c.change.onset}:{c.change.duration}:{c.change.text}" for c in reading.changes
    )
    sung = "|".join(f"{n.onset}:{n.duration}:{n.pitch}" for n in melody.notes) if melody else ""
    return sha256(f"{reading.key}|{told}{sung}".encode()).hexdigest()[:16]


def _phrases_digest(phrases: tuple[Phrase, ...]) -> str:
    """A teacher's own phrases by name, changes and notes; empty without any."""
    told = "|".join(
        f"{p.name}:{[(str(s.start), str(s.end), str(s.chord)) for s in p.spans]}"
        f"{[(str(n.at), str(n.duration), n.midi) for n in p.notes]}"
        for p in phrases
    )
    return sha256(told.encode()).hexdigest()[:16] if told else ""


def _sheet(found: Family, plan: Plan, ground: Ground, recipe: Recipe, feel: str) -> Sheet:
    return _written(found, plan, ground, recipe, feel, _draw(plan, recipe, ground.level, 1)[0])


def _written(
    found: Family, plan: Plan, ground: Ground, recipe: Recipe, feel: str, line: list[int]
) -> Sheet:
    notes = _spelled(ground, plan.write(line))
    return Sheet(
        recipe=recipe,
        title=found.title,
        instruction=" ".join((plan.instruction, *plan.remarks, *_conceded(ground, notes))),
        key=ground.reading.key,
        instrument=ground.instrument,
        bars=ground.reading.bars,
        line=Line(notes, ground.end - ground.start),
        promises=(*ground.universal(), *plan.promise(notes)),
        tempo_bpm=ground.tempo_bpm,
        feel=feel,
        spelling=ground.spelling,
    )


def _conceded(ground: Ground, notes: tuple[Note, ...]) -> Iterator[str]:
    played = {n.pitch.midi for n in notes}
    if any(pitch.midi in played for pitch in ground.conceded):
        yield "Some notes lie awkwardly on your instrument: take those slowly."


def _spelled(ground: Ground, notes: tuple[Note, ...]) -> tuple[Note, ...]:
    """The notes with the spelling cleaned up: nothing spelled two ways in a bar."""
    placed = [(p, n) for p, inside in ground.by_patch(notes) for n in inside]
    pitches = tidy(
        [n.pitch for _, n in placed],
        [p.bar.number for p, _ in placed],
        ground.reading.key,
        firm=[n.degree in p.chord.degrees for p, n in placed],
        manner=ground.spelling,
    )
    return tuple(replace(n, pitch=p) for n, p in zip(notes, pitches, strict=True))


def _draw(plan: Plan, recipe: Recipe, level: Level, count: int) -> list[list[int]]:
    rng = np.random.default_rng(_number(level, recipe.family, recipe.seed))
    lines: list[list[int]] = plan.trellis.solve().sample(count, rng).tolist()
    return lines


def _relaxed(found: Family, plan: Plan, ground: Ground, recipe: Recipe, feel: str) -> Sheet:
    conflict = plan.trellis.conflict()
    if conflict is None or not conflict.repairs:
        plan.trellis.solve()
        raise AssertionError("a trellis that refuses has a conflict")  # pragma: no cover
    repair = conflict.repairs[0]
    waived = Plan(
        plan.trellis.waive(repair.waivers),
        plan.write,
        plan.promise,
        plan.instruction,
        (*plan.remarks, f"Relaxed: {repair.words}."),
    )
    sheet = _sheet(found, waived, ground, recipe, feel)
    given_up = {fault.promise for fault in broken(sheet)}
    return sheet.with_line(sheet.line, tuple(p for p in sheet.promises if p not in given_up))
