"""Motifs: cells of a few notes that come back, moved with the harmony and varied. A planned phrase
of our own is made likewise where the library has none.

A coming has the rhythm of the first and goes up and down with it: the same steps of its chord's
scale, from the same degree or from another, with another last note, or upside down.

Source: teaching practice: one motif at level 3, two at 5, three at 7; a motif returns at least
three times, varied.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from random import Random

from changewright.lesson.cells import CellSet, cells_for
from changewright.lesson.ground import Ground, Patch
from changewright.lesson.phrase import Phrase, PhraseNote, spans_of
from changewright.lesson.phrase_fit import Placement, in_reach
from changewright.music.bar import Bar, Quarters
from changewright.music.promise import Echoes
from changewright.theory.pitch import Degree

__all__ = ["Motif", "echoes_of", "motifs_of", "phrase_places"]

_EVERY = 4  # bars from one coming to the next
_LEAST = 3
_LONG = 6  # comings four bars apart from which on two motifs take turns
_TRIES = 40
_LATE = 0.6  # share of cells that start after beat one, where the level has such rhythms
_LITERAL = 0.4  # share of comings on another chord that keep their degrees as well
_STRANGE = 0.25  # share of varied comings that are turned at the end or upside down

Timed = Sequence[tuple[Quarters, Quarters]]

Motif = Sequence[Placement]
"""All comings of one motif, in order."""


def motifs_of(ground: Ground, dice: Random, count: int) -> list[Motif]:
    """At most ``count`` motifs, as many as the form has room for three comings of each.

    The first stands in the first bar and every four bars on; in long forms the second takes turns
    with it, in short ones it answers two bars later. The last bar stays free for the ending.
    """
    found: list[Motif] = []
    rhythms: list[Timed] = []
    for homes in _homes(ground, count):
        motif = _motif(ground, dice, homes, rhythms) if len(homes) >= _LEAST else []
        if motif:
            found.append(motif)
            rhythms.append([(n.at, n.duration) for n in motif[0].phrase.notes])
    return found


def echoes_of(motif: Motif) -> list[Echoes]:
    """What a motif promises: every later coming is one of the first."""
    at = [p.start + p.phrase.notes[0].at for p in motif]
    return [Echoes(later, at[0], len(motif[0].phrase.notes)) for later in at[1:]]


def _homes(ground: Ground, count: int) -> list[list[int]]:
    """The bars of each motif."""
    last = len(ground.reading.bars) - 1
    calls = [i for i in range(0, last, _EVERY) if _home(ground, i)]
    answers = [i for i in range(_EVERY // 2, last, _EVERY) if _home(ground, i)]
    if len(calls) < _LONG:
        return [calls, answers][:count]
    return [calls[::2], calls[1::2], answers[1::2]][:count] if count > 1 else [calls]


@dataclass(frozen=True, slots=True)
class _Shape:
    """Steps of a scale, and the one that the first note stands on; 0 is the chord's root."""

    start: int
    steps: tuple[int, ...]

    def moved(self, by: int) -> "_Shape":
        return replace(self, start=self.start + by)

    def turned(self) -> "_Shape":
        *first, before, last = self.steps
        return replace(self, steps=(*first, before, 2 * before - last))

    def mirrored(self) -> "_Shape":
        return replace(self, steps=tuple(-s for s in self.steps))


def _motif(
    ground: Ground, dice: Random, homes: Sequence[int], rhythms: Sequence[Timed]
) -> list[Placement]:
    """The comings of one motif in some bars, or nothing where none fits them all; its rhythm is
    another than those of the motifs before."""
    bars = ground.reading.bars
    patches = [p for i in homes if (p := ground.patch_at(bars[i].start)) is not None]
    able = _rhythms(ground, bars[homes[0]], min(map(_room, patches)))
    able = [r for r in able if all(list(r) != list(other) for other in rhythms)]
    for _ in range(_TRIES if able else 0):
        rhythm, shape = _drawn(dice, able)
        found: list[Placement] = []
        for index, patch in zip(homes, patches, strict=True):
            shapes = _ways(dice, shape, found[-1] if found else None, patch)
            tried = (_placed(ground, index, patch, rhythm, s) for s in shapes)
            reached = (one for one in tried if one is not None and in_reach(one, ground))
            coming = next((p for p in reached if not found or _sound(p) != _sound(found[-1])), None)
            if coming is None:
                break
            found.append(coming)
        if len(found) == len(homes):
            return found
    return []


def _sound(place: Placement) -> tuple[int, tuple[int, ...]]:
    return place.pc, place.shape


def _drawn(dice: Random, rhythms: Sequence[Timed]) -> tuple[Timed, _Shape]:
    late = [r for r in rhythms if r[0][0] > 0]
    rhythm = dice.choice(late if late and dice.random() < _LATE else rhythms)
    return rhythm, _Shape(dice.choice((0, 2, 4)), tuple(_steps(dice, len(rhythm))))


def _ways(dice: Random, shape: _Shape, before: Placement | None, patch: Patch) -> Iterator[_Shape]:
    """The shapes that a coming may have, in the order to try: as it was, on another degree, with
    another end, upside down."""
    if before is None:
        yield shape
        return
    root = patch.chord.root
    moved = before.spans[0].root != (0 if root is None else root.pc)
    if moved and dice.random() < _LITERAL:
        yield shape
    near = [shape.moved(by) for by in dice.sample((-2, -1, 1, 2), 4)]
    strange = dice.sample((shape.turned(), shape.mirrored()), 2)
    yield from (*strange, *near) if dice.random() < _STRANGE else (*near, *strange)
    yield shape


def phrase_places(ground: Ground, dice: Random, strict: bool) -> list[Placement]:
    """A phrase made for these changes: a cell wherever the kind of chord stands that fills most
    bars, a bar at least between. ``strict`` asks for the same degrees everywhere."""
    bars = ground.reading.bars
    kinds: dict[tuple[str, Quarters], list[int]] = {}
    for index in (i for i in range(len(bars)) if _home(ground, i)):
        patch = ground.patch_at(bars[index].start)
        homes = kinds.setdefault((_kind(patch), _room(patch)), []) if patch else []
        if not homes or index >= homes[-1] + 2:
            homes.append(index)
    for homes in sorted(kinds.values(), key=len, reverse=True):
        found = _composed(ground, dice, homes)
        if strict:
            found = [p for p in found if (p.degrees, p.shape) == (found[0].degrees, found[0].shape)]
        if found:
            return found
    return []


def _kind(patch: Patch) -> str:
    return spans_of([replace(patch, nth=0)])[0].kind


def _room(patch: Patch) -> Quarters:
    return patch.end - patch.start


def _composed(ground: Ground, dice: Random, homes: Sequence[int]) -> list[Placement]:
    """The same cell in each of some bars, or nothing where none fits them all."""
    bars = ground.reading.bars
    patches = [p for i in homes if (p := ground.patch_at(bars[i].start)) is not None]
    rhythms = _rhythms(ground, bars[homes[0]], min(map(_room, patches)))
    for _ in range(_TRIES if rhythms else 0):
        rhythm, shape = _drawn(dice, rhythms)
        found = [_placed(ground, i, p, rhythm, shape) for i, p in zip(homes, patches, strict=True)]
        kept = [one for one in found if one is not None and in_reach(one, ground)]
        if len(kept) == len(homes):
            return kept
    return []


def _home(ground: Ground, index: int) -> bool:
    bars = ground.reading.bars
    patch = ground.patch_at(bars[index].start)
    fits = patch is not None and len(patch.scale) >= 7 and patch.start == bars[index].start
    return fits and bars[index].length == bars[0].length


def _rhythms(ground: Ground, bar: Bar, room: Quarters) -> list[Timed]:
    """The level's own rhythms cut to what the chord has room for: three to six notes, and a rest
    after them."""
    return _cut(cells_for(ground.level, bar), room, bar.length)


@lru_cache(maxsize=256)
def _cut(cells: CellSet, room: Quarters, length: Quarters) -> list[Timed]:
    found: dict[Timed, None] = {}
    for cell in cells.cells:
        cut = tuple((o, min(d, room - o)) for o, d in cell.notes if o < room)
        if 3 <= len(cut) <= 6 and cut[-1][0] + cut[-1][1] <= length:
            found[cut] = None
    return list(found)


def _steps(dice: Random, count: int) -> list[int]:
    """Steps of the scale from the first note: mostly by step, one skip, no note straight back."""
    steps = [0]
    way = dice.choice((-1, 1))
    skip, turn = dice.randrange(1, count), dice.randrange(1, count)
    for index in range(1, count):
        way = -way if index == turn and index != 1 else way
        steps.append(steps[-1] + way * (2 if index == skip else 1))
    return steps


def _placed(
    ground: Ground, index: int, patch: Patch, rhythm: Timed, shape: _Shape
) -> Placement | None:
    """The cell on a chord; nothing where a long note is no chord tone or the last one is a note
    of care, on which a phrase would hang."""
    scale, bar = patch.scale, ground.reading.bars[index]
    tones = {d.pc for d in patch.tones}
    care = {d.pc for read in patch.read.scales[:1] for d in read.care}
    degrees: list[Degree] = []
    heights: list[int] = []
    for step, (_, duration) in zip(shape.steps, rhythm, strict=True):
        octave, place = divmod(shape.start + step, len(scale))
        degree = scale[place]
        if duration >= 1 and degree.pc not in tones:
            return None
        degrees.append(degree)
        heights.append(12 * octave + degree.pc)
    if degrees[-1].pc in care:
        return None
    root = 0 if patch.chord.root is None else patch.chord.root.pc
    span = spans_of([replace(patch, nth=0)])
    notes = tuple(
        PhraseNote(at, d, root + h, 0, degree, True, degree.pc in tones)
        for (at, d), h, degree in zip(rhythm, heights, degrees, strict=True)
    )
    phrase = Phrase("motif", "motif", (bar,), span, notes)
    moves = tuple(h - heights[0] for h in heights)
    pc = (root + heights[0]) % 12
    return Placement(
        phrase, bar.start, index, pc, tuple(degrees), span, moves, rhythm[-1][1], False, True
    )
