"""Lines written note by note: the spots of a rhythm become slots, and choices become notes."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import groupby

from changewright.lesson.family import Plan
from changewright.lesson.ground import Ground, name_at
from changewright.lesson.spots import Approach, Spot, degree_of, offset, pool_of, rows
from changewright.lesson.tastes import LINE
from changewright.line.grammar import Grammar
from changewright.line.slot import Slot
from changewright.line.trellis import Trellis
from changewright.music.line import Note, Role
from changewright.music.promise import Approached, Lands, Leaps, Promise, Stays, Steps
from changewright.theory.pitch import Degree, Pitch
from changewright.theory.spelling import approach, spell

__all__ = ["Facts", "line_plan", "line_promises", "line_trellis", "stays", "write_line"]

Facts = Callable[[int], Mapping[str, int]]
"""Further facts of a spot, by its index."""

Columns = tuple[tuple[str, tuple[int, ...]], ...]

_FROM_CONTOUR = 8.0
"""Semitones from a planned contour that cost half a unit of log weight: with 5, lines of one plan
were too much alike (edit distance .38 over blues, .46 over AABA; now .42 and .51)."""

_WIDEST_IN_PHRASE = 9
"""A major sixth: an octave inside a phrase is what a teacher crosses out first."""


def line_plan(
    ground: Ground,
    spots: Sequence[Spot],
    instruction: str,
    first: Iterable[Promise] = (),
    grammar: Grammar = LINE,
    more: Facts | None = None,
) -> Plan:
    """The plan of a line: its trellis, and the promises of every line after those that the
    family makes ``first``."""
    trellis, pitches = line_trellis(ground, spots, grammar, more)
    own = tuple(first)

    def promise(notes: tuple[Note, ...]) -> tuple[Promise, ...]:
        return (*own, *line_promises(ground, spots, notes), *stays(spots))

    return Plan(trellis, write_line(spots, pitches), promise, instruction)


def line_trellis(
    ground: Ground,
    spots: Sequence[Spot],
    grammar: Grammar = LINE,
    more: Facts | None = None,
) -> tuple[Trellis, list[tuple[int, ...]]]:
    """The trellis of a line, and each slot's MIDI numbers. ``more`` adds facts by index."""
    known: dict[object, tuple[tuple[int, ...], Columns]] = {}
    slots: list[Slot] = []
    pitches: list[tuple[int, ...]] = []
    for index, spot in enumerate(spots):
        key = (
            spot.patch.code,
            spot.pool,
            spot.target,
            spot.approach,
            spot.place,
            spot.link,
            spot.fixed,
            _cares(spot),
        )
        if key not in known:
            midi = _candidates(ground, spot)
            known[key] = midi, _columns(ground, spot, midi)
        midi, columns = known[key]
        facts = _facts(ground, spots, index, more(index) if more else {})
        slots.append(_slot(ground, spot, midi, columns, facts))
        pitches.append(midi)
    return Trellis(grammar, tuple(slots)), pitches


def _candidates(ground: Ground, spot: Spot) -> tuple[int, ...]:
    if spot.fixed is not None:
        return (spot.fixed,)
    if spot.leads:
        return tuple(ground.reach)
    row, _ = rows(spot.patch, spot.pool)
    return tuple(m for m in ground.reach if row[m % 12] is not None)


def _columns(ground: Ground, spot: Spot, midi: tuple[int, ...]) -> Columns:
    low, high, chord = ground.span.low.midi, ground.span.high.midi, spot.patch.chord
    care = {chord.tone(d).pc for d in spot.patch.read.scales[0].care} if _cares(spot) else set()
    tones, _ = rows(spot.patch, spot.patch.tones)
    landing, _ = rows(spot.patch, spot.target)
    followed = _befores(spot, midi)
    columns = {
        "pitch": midi,
        "outside": tuple(max(0, low - m, m - high) for m in midi),
        "awkward": tuple(int(m in ground.awkward_midi) for m in midi),
        "pool": tuple(int(not spot.leads or f is not None) for f in followed),
        "tone": tuple(int(tones[m % 12] is not None) for m in midi),
        "target": tuple(int(landing[m % 12] is not None) for m in midi),
        "care": tuple(int(m % 12 in care) for m in midi),
        "after": tuple(-1 if f is None else f for f in followed),
    }
    return tuple(columns.items())


def _cares(spot: Spot) -> bool:
    free = not spot.leads and not spot.target and spot.role in (None, Role.TARGET)
    return bool(spot.patch.read.scales) and free


def _befores(spot: Spot, midi: tuple[int, ...]) -> list[int | None]:
    """Which MIDI number must stand before each of these for the approach to hold; 0 for any, None
    where it can't be this note of the approach."""
    if spot.link is not None:
        return [m - spot.link for m in midi]
    if spot.approach is None:
        return [0] * len(midi)
    steps = spot.approach.offsets
    row, scale = rows(spot.patch, spot.pool)
    if spot.place < 0:
        return [offset(scale, m, steps[-1]) for m in midi]
    targets = (t for t in range(midi[0] - 6, midi[-1] + 7) if row[t % 12] is not None)
    found: dict[int, int] = {}
    for target in targets:
        before = 0 if spot.place == 0 else offset(scale, target, steps[spot.place - 1])
        found.setdefault(offset(scale, target, steps[spot.place]), before)
    return [found.get(m) for m in midi]


def _facts(
    ground: Ground, spots: Sequence[Spot], index: int, more: Mapping[str, int]
) -> tuple[tuple[str, int], ...]:
    spot = spots[index]
    bar = spot.patch.bar
    beats = (spot.at - bar.start) / bar.meter.beat
    strong = beats.denominator == 1 and beats.numerator % 2 == 0
    facts = {
        "fresh": int(spot.fresh or index == 0),
        "ends": int(spot.ends),
        "leap": _leap(ground, spots, index),
        "entry": spot.entry,
        "figure": int((spot.approach is not None and spot.place != 0) or spot.link is not None),
        "target": int(bool(spot.target)),
        "long": int(spot.duration >= 1),
        "strong": int(strong or spot.duration >= 1),
        "running": _running(spots, index),
        **{f"cross{n}": low * 128 + high for n, (low, high) in enumerate(ground.crossings[:4])},
        **more,
    }
    return tuple(facts.items())


def _running(spots: Sequence[Spot], index: int) -> int:
    """How fast a note follows another: 0 from a quarter up, 1 for eighths, 2 for faster ones."""
    before = spots[index - 1].duration if index else 1
    return 0 if before >= 1 else 1 if before >= Fraction(1, 2) else 2


def _leap(ground: Ground, spots: Sequence[Spot], index: int) -> int:
    """The widest move into a note: the level's in a quoted phrase, anything in a melody."""
    spot = spots[index]
    if spot.fixed is not None or (index and spots[index - 1].fixed is not None):
        return 99 if spot.fixed is not None and spots[index - 1].fixed is not None else 12
    if spot.link is not None:
        return ground.level.widest_leap
    return min(ground.level.widest_leap, _WIDEST_IN_PHRASE)


def _slot(
    ground: Ground,
    spot: Spot,
    midi: tuple[int, ...],
    columns: Columns,
    facts: tuple[tuple[str, int], ...],
) -> Slot:
    height = ground.middle if spot.height is None else spot.height
    spread = 7.0 if spot.height is None else _FROM_CONTOUR
    bar = ground.bar_at(spot.at)
    return Slot(
        spot.at,
        bar.number,
        bar.beat_of(spot.at),
        columns,
        facts,
        tuple(_lean(spot, m, height, spread) for m in midi),
        lambda choice: str(_spelled(spot, midi[choice], None)),
    )


def _lean(spot: Spot, midi: int, height: float, spread: float) -> float:
    # a lean and no rule, so that all lines share their tables whatever their highest note
    if spot.top is not None and (midi > spot.top or (spot.peak and midi < spot.top)):
        return float("-inf")
    return -0.5 * ((midi - height) / spread) ** 2


def write_line(
    spots: Sequence[Spot], pitches: Sequence[tuple[int, ...]]
) -> Callable[[Sequence[int]], tuple[Note, ...]]:
    """The writer of a plan: from one choice a spot to notes."""

    def write(line: Sequence[int]) -> tuple[Note, ...]:
        midi = [row[choice] for row, choice in zip(pitches, line, strict=True)]
        return tuple(_note(spots, midi, index) for index in range(len(spots)))

    return write


def _note(spots: Sequence[Spot], midi: Sequence[int], index: int) -> Note:
    spot = spots[index]
    degree = degree_of(spot.pool, spot.patch.chord, midi[index])
    if spot.leads:
        end = next(i for i in range(index, len(spots)) if not spots[i].leads)
        pitch = _spelled(spot, midi[index], _spelled(spots[end], midi[end], None))
        tone = degree_of(spot.patch.tones, spot.patch.chord, midi[index])
        degree = tone if tone in spot.patch.tones else None
    else:
        pitch = _spelled(spot, midi[index], None)
    return Note(
        spot.at, spot.duration, pitch, _role(spot, degree), _claim(spot, degree), spot.blank
    )


def _claim(spot: Spot, degree: Degree | None) -> Degree | None:
    """The degree to print; none for a note of an approach, which belongs to its target."""
    return None if spot.leads else degree


def _role(spot: Spot, degree: Degree | None) -> Role:
    if spot.role is not None:
        return spot.role
    if spot.leads and spot.approach is not None:
        return Role.APPROACH if _one_sided(spot.approach) else Role.ENCLOSURE
    if spot.target:
        return Role.TARGET
    return Role.CHORD_TONE if degree in spot.patch.tones else Role.SCALE_TONE


def _one_sided(figure: Approach) -> bool:
    ways = {
        step if isinstance(step, str) and step == "down" else _way(step) for step in figure.offsets
    }
    return len(ways) == 1


def _way(step: int | str) -> int:
    if isinstance(step, int):
        return 1 if step > 0 else -1
    return -1 if step == "down" else 1


def _spelled(spot: Spot, midi: int, target: Pitch | None) -> Pitch:
    chord = spot.patch.chord
    degree = degree_of(spot.pool, chord, midi)
    if target is not None and 1 <= abs(midi - target.midi) <= 2:
        return approach(target, midi - target.midi)
    if degree is None:
        degree = degree_of(pool_of(spot.patch, "scale"), chord, midi)
    if degree is None:
        return spell(midi, chord=chord)
    return name_at(chord.tone(degree), midi)


def line_promises(
    ground: Ground, spots: Sequence[Spot], notes: Sequence[Note]
) -> tuple[Promise, ...]:
    """What every line promises: targets, entries, approaches, and no leap beyond the level's
    inside a phrase."""
    promises: list[Promise] = []
    for index, (spot, note) in enumerate(zip(spots, notes, strict=True)):
        if spot.target and not spot.leads:
            promises.append(Lands(spot.at, spot.target))
        if spot.entry < 99 and index:
            promises.append(Steps(spot.at, spot.entry))
        if spot.approach is not None and spot.place < 0:
            midi = note.pitch.midi
            _, scale = rows(spot.patch, spot.pool)
            asked = (offset(scale, midi, step) - midi for step in spot.approach.offsets)
            promises.append(Approached(spot.at, tuple(asked)))
    return (*promises, *_phrase_leaps(ground, spots))


def _phrase_leaps(ground: Ground, spots: Sequence[Spot]) -> Iterable[Promise]:
    starts = [i for i, s in enumerate(spots) if s.fresh or i == 0]
    ends = [*starts[1:], len(spots)]
    for start, end in zip(starts, ends, strict=True):
        last = spots[end - 1]
        yield Leaps(spots[start].at, last.at + last.duration, ground.level.widest_leap)


def stays(spots: Sequence[Spot]) -> Iterable[Promise]:
    """Promise the pool of all spots that are free, chord by chord, and where a quoted phrase
    starts; its other notes follow, and a target is promised as such."""
    for spot in spots:
        if spot.role is Role.PHRASE and spot.link is None and spot.fixed is None:
            yield Lands(spot.at, spot.pool)
    for (_, pool, free), run in groupby(spots, key=lambda s: (s.patch.start, s.pool, _free(s))):
        notes = list(run)
        if free:
            yield Stays(notes[0].at, notes[-1].at + notes[-1].duration, pool)


def _free(spot: Spot) -> bool:
    return not spot.leads and not spot.target and spot.role is not Role.PHRASE
