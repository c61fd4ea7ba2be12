"""Lines written note by note: the spots of a rhythm become slots, and choices become notes."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby
from random import Random

from changewright.lesson.ground import Ground, Patch, name_at
from changewright.lesson.tastes import LINE
from changewright.line.grammar import Grammar
from changewright.line.slot import Slot
from changewright.line.trellis import Trellis
from changewright.music.bar import Quarters
from changewright.music.line import Note, Role
from changewright.music.promise import Approached, Lands, Leaps, Promise, Stays, Steps
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree, Pitch
from changewright.theory.spelling import approach, spell

__all__ = [
    "Approach",
    "Spot",
    "degree_of",
    "line_promises",
    "line_trellis",
    "pool_of",
    "spots_of",
    "stays",
    "swell",
    "write_line",
]

Pool = tuple[Degree, ...]

_WIDEST_IN_PHRASE = 9
"""A major sixth: an octave inside a phrase is what a teacher crosses out first."""


@dataclass(frozen=True, slots=True)
class Approach:
    """Notes that lead to a target: each as semitones from it, or ``"up"`` and ``"down"`` for the
    next note of the scale above and below; ``"up2"`` is the second above."""

    name: str
    offsets: tuple[int | str, ...]


@dataclass(frozen=True, slots=True)
class Spot:
    """A note to be chosen.

    ``patch`` is the chord it belongs to (of an anticipation, the one to come); ``pool`` the
    degrees allowed, ``target`` the degrees it must be one of, ``entry`` the widest move into it
    in semitones. ``approach`` and ``place`` say which note of which approach this is; the spot
    after the last of them is its target and carries the approach with ``place`` -1. ``link``
    is the exact interval from the note before, in a phrase that is quoted.
    """

    at: Quarters
    duration: Quarters
    patch: Patch
    pool: Pool
    target: Pool = ()
    entry: int = 99
    approach: Approach | None = None
    place: int = -1
    blank: bool = False
    fresh: bool = False
    ends: bool = False
    role: Role | None = None
    height: float | None = None
    link: int | None = None

    @property
    def leads(self) -> bool:
        """Tell whether this is a note of an approach, not a target or free."""
        return self.approach is not None and self.place >= 0


def pool_of(patch: Patch, kind: str) -> Pool:
    """The degrees that a family allows: ``chord``, ``guide``, or ``scale`` (chord tones and the
    first-choice scale)."""
    if kind == "guide":
        return patch.chord.guide_tones or patch.chord.four
    return patch.tones if kind == "chord" else patch.scale


def degree_of(pool: Pool, chord: Chord, midi: int) -> Degree | None:
    """The degree of a pool that a MIDI number sounds."""
    return None if chord.root is None else _row(pool, chord.root.pc)[midi % 12]


Row = tuple[Degree | None, ...]
"""What each of the twelve pitch classes is in a pool."""


@lru_cache(maxsize=2048)
def _row(pool: Pool, root: int) -> Row:
    found = {(root + d.pc) % 12: d for d in reversed(pool)}
    return tuple(found.get(pc) for pc in range(12))


def _rows(patch: Patch, pool: Pool) -> tuple[Row, Row]:
    """The rows of a pool and of the patch's scale."""
    root = patch.chord.root
    pc = 0 if root is None else root.pc
    return _row(pool, pc), _row(pool_of(patch, "scale"), pc)


def _offset(scale: Row, target: int, step: int | str) -> int:
    """The MIDI number of an approach note of a target."""
    if isinstance(step, int):
        return target + step
    way, count = {"up": (1, 1), "up2": (1, 2), "down": (-1, 1)}[step]
    for _ in range(count):
        target += way
        while scale[target % 12] is None:
            target += way
    return target


def line_trellis(
    ground: Ground,
    spots: Sequence[Spot],
    grammar: Grammar = LINE,
    more: Callable[[int], Mapping[str, int]] | None = None,
) -> tuple[Trellis, list[tuple[int, ...]]]:
    """The trellis of a line, and each slot's MIDI numbers. ``more`` adds facts by index."""
    known: dict[object, tuple[tuple[int, ...], tuple[tuple[str, tuple[int, ...]], ...]]] = {}
    slots: list[Slot] = []
    pitches: list[tuple[int, ...]] = []
    for index, spot in enumerate(spots):
        key = (spot.patch.code, spot.pool, spot.target, spot.approach, spot.place, spot.link)
        if key not in known:
            midi = _candidates(ground, spot)
            known[key] = midi, _columns(ground, spot, midi)
        midi, columns = known[key]
        slots.append(
            _slot(
                ground,
                spot,
                midi,
                columns,
                _facts(ground, spots, index, more(index) if more else {}),
            )
        )
        pitches.append(midi)
    return Trellis(grammar, tuple(slots)), pitches


def _candidates(ground: Ground, spot: Spot) -> tuple[int, ...]:
    if spot.leads:
        return tuple(ground.reach)
    row, _ = _rows(spot.patch, spot.pool)
    return tuple(m for m in ground.reach if row[m % 12] is not None)


def _columns(
    ground: Ground, spot: Spot, midi: tuple[int, ...]
) -> tuple[tuple[str, tuple[int, ...]], ...]:
    low, high, chord = ground.span.low.midi, ground.span.high.midi, spot.patch.chord
    care = {chord.tone(d).pc for d in spot.patch.read.scales[0].care} if _cares(spot) else set()
    tones, _ = _rows(spot.patch, spot.patch.tones)
    landing, _ = _rows(spot.patch, spot.target)
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
    return bool(spot.patch.read.scales) and not spot.leads and not spot.target


def _befores(spot: Spot, midi: tuple[int, ...]) -> list[int | None]:
    """Which MIDI number must stand before each of these for the approach to hold; 0 for any, None
    where it can't be this note of the approach."""
    if spot.link is not None:
        return [m - spot.link for m in midi]
    if spot.approach is None:
        return [0] * len(midi)
    steps = spot.approach.offsets
    row, scale = _rows(spot.patch, spot.pool)
    if spot.place < 0:
        return [_offset(scale, m, steps[-1]) for m in midi]
    targets = (t for t in range(midi[0] - 6, midi[-1] + 7) if row[t % 12] is not None)
    found: dict[int, int] = {}
    for target in targets:
        before = 0 if spot.place == 0 else _offset(scale, target, steps[spot.place - 1])
        found.setdefault(_offset(scale, target, steps[spot.place]), before)
    return [found.get(m) for m in midi]


def _facts(
    ground: Ground, spots: Sequence[Spot], index: int, more: Mapping[str, int]
) -> tuple[tuple[str, int], ...]:
    spot = spots[index]
    bar = spot.patch.bar
    on_beat = (spot.at - bar.start) % bar.meter.beat == 0
    strong = on_beat and (spot.at - bar.start) / bar.meter.beat % 2 == 0
    facts = {
        "fresh": int(spot.fresh or index == 0),
        "ends": int(spot.ends),
        "leap": min(ground.level.widest_leap, _WIDEST_IN_PHRASE),
        "entry": spot.entry,
        "figure": int((spot.approach is not None and spot.place != 0) or spot.link is not None),
        "target": int(bool(spot.target)),
        "long": int(spot.duration >= 1),
        "strong": int(strong or spot.duration >= 1),
        **more,
    }
    return tuple(facts.items())


def _slot(
    ground: Ground,
    spot: Spot,
    midi: tuple[int, ...],
    columns: tuple[tuple[str, tuple[int, ...]], ...],
    facts: tuple[tuple[str, int], ...],
) -> Slot:
    height = ground.middle if spot.height is None else spot.height
    spread = 7.0 if spot.height is None else 4.0
    bar = ground.bar_at(spot.at)
    return Slot(
        spot.at,
        bar.number,
        bar.beat_of(spot.at),
        columns,
        facts,
        tuple(-0.5 * ((m - height) / spread) ** 2 for m in midi),
        lambda choice: str(_spelled(spot, midi[choice], None)),
    )


def spots_of(
    ground: Ground, timed: Iterable[tuple[Quarters, Quarters]], kind: str, *, again: bool = True
) -> list[Spot]:
    """The spots of a rhythm, given as (onset, duration): each belongs to the chord it starts in,
    an anticipation to the one to come. A note held over a change from a beat before or more is
    struck again there, unless not ``again``."""
    spots: list[Spot] = []
    for at, duration in timed:
        for onset, length, patch in _by_chord(ground, at, duration, again):
            spots.append(Spot(onset, length, patch, pool_of(patch, kind)))
    return _phrased(spots)


def _by_chord(
    ground: Ground, at: Quarters, duration: Quarters, again: bool
) -> Iterable[tuple[Quarters, Quarters, Patch]]:
    while duration > 0:
        patch = ground.patch_at(at)
        over = patch.end - at if patch else duration
        after = ground.patch_at(patch.end) if patch else None
        changes = after is not None and patch is not None and after.chord != patch.chord
        if patch and changes and after and over < duration:
            if over < 1:
                yield at, duration, after
                return
            if not again:
                yield at, duration, patch
                return
            yield at, over, patch
            at, duration = at + over, duration - over
            continue
        if patch:
            yield at, duration, patch
        return


def _phrased(spots: Sequence[Spot]) -> list[Spot]:
    """Mark where phrases begin and end: a rest of a beat or more lies between."""
    marked: list[Spot] = []
    for index, spot in enumerate(spots):
        before = spots[index - 1] if index else None
        after = spots[index + 1] if index + 1 < len(spots) else None
        fresh = before is None or spot.at - before.at - before.duration >= 1
        ends = after is None or after.at - spot.at - spot.duration >= 1
        marked.append(replace(spot, fresh=fresh, ends=ends))
    return marked


def swell(spots: Sequence[Spot], ground: Ground, dice: Random) -> list[Spot]:
    """Plan a contour: each phrase leans to an arch of its own, the highest about two thirds
    through."""
    starts = [i for i, s in enumerate(spots) if s.fresh or i == 0]
    low, high = ground.span.low.midi, ground.span.high.midi
    room = min(9.0, (high - low) / 2.5)
    shaped: list[Spot] = []
    for number, start in enumerate(starts):
        end = starts[number + 1] if number + 1 < len(starts) else len(spots)
        rise = 1.0 - abs((number + 0.5) / len(starts) - 0.66)
        centre = (low + high) / 2 + room * (rise - 0.75) + dice.uniform(-2, 2)
        falls = dice.random() < 0.5
        for index in range(start, end):
            along = (index - start + 0.5) / (end - start)
            arch = 1 - abs(along - (0.3 if falls else 0.65)) * 1.6
            shaped.append(replace(spots[index], height=centre + room * 0.55 * arch))
    return shaped


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
            _, scale = _rows(spot.patch, spot.pool)
            asked = (_offset(scale, midi, step) - midi for step in spot.approach.offsets)
            promises.append(Approached(spot.at, tuple(asked)))
    return (*promises, *_phrase_leaps(ground, spots))


def _phrase_leaps(ground: Ground, spots: Sequence[Spot]) -> Iterable[Promise]:
    starts = [i for i, s in enumerate(spots) if s.fresh or i == 0]
    ends = [*starts[1:], len(spots)]
    for start, end in zip(starts, ends, strict=True):
        last = spots[end - 1]
        yield Leaps(spots[start].at, last.at + last.duration, ground.level.widest_leap)


def stays(spots: Sequence[Spot]) -> Iterable[Promise]:
    """Promise the pool of all spots that are no approach notes, chord by chord."""
    for (_, pool, leads), run in groupby(spots, key=lambda s: (s.patch.start, s.pool, s.leads)):
        notes = list(run)
        if not leads:
            yield Stays(notes[0].at, notes[-1].at + notes[-1].duration, pool)
