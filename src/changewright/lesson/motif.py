"""A motif that moves with the harmony: one cell of a few notes comes back on other chords, the same
steps of each chord's scale in the same rhythm. A planned phrase of our own is made likewise where
the library has none.

Source: teaching practice: a motif returns at least three times.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from random import Random

from changewright.lesson.cells import CellSet, cells_for
from changewright.lesson.ground import Ground, Patch
from changewright.lesson.phrase import Phrase, PhraseNote, spans_of
from changewright.lesson.phrase_fit import Placement, in_reach
from changewright.music.bar import Bar, Quarters
from changewright.theory.pitch import Degree

__all__ = ["motif_places", "phrase_places"]

_EVERY = 4  # bars from one coming to the next
_LEAST = 3
_TRIES = 40
_LATE = 0.6  # share of cells that start after beat one, where the level has such rhythms

Timed = Sequence[tuple[Quarters, Quarters]]


def motif_places(ground: Ground, dice: Random) -> list[Placement]:
    """The cell in the first bar and every four bars on, or nothing where it can't come back twice.

    The last bar stays free for the ending.
    """
    bars = ground.reading.bars
    homes = [i for i in range(0, len(bars) - 1, _EVERY) if _home(ground, i)]
    return _composed(ground, dice, homes) if len(homes) >= _LEAST else []


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
    """One cell in each of some bars, or nothing where none fits them all."""
    bars = ground.reading.bars
    patches = [p for i in homes if (p := ground.patch_at(bars[i].start)) is not None]
    rhythms = _rhythms(ground, bars[homes[0]], min(map(_room, patches)))
    late = [r for r in rhythms if r[0][0] > 0]
    for _ in range(_TRIES if rhythms else 0):
        rhythm = dice.choice(late if late and dice.random() < _LATE else rhythms)
        steps = _steps(dice, len(rhythm))
        start = dice.choice((0, 2, 4))
        found = [
            _placed(ground, i, p, rhythm, start, steps) for i, p in zip(homes, patches, strict=True)
        ]
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
    ground: Ground, index: int, patch: Patch, rhythm: Timed, start: int, steps: Sequence[int]
) -> Placement | None:
    scale, bar = patch.scale, ground.reading.bars[index]
    tones = {d.pc for d in patch.tones}
    degrees: list[Degree] = []
    heights: list[int] = []
    for step, (_, duration) in zip(steps, rhythm, strict=True):
        octave, place = divmod(start + step, len(scale))
        degree = scale[place]
        if duration >= 1 and degree.pc not in tones:
            return None
        degrees.append(degree)
        heights.append(12 * octave + degree.pc)
    root = 0 if patch.chord.root is None else patch.chord.root.pc
    span = spans_of([replace(patch, nth=0)])
    notes = tuple(
        PhraseNote(at, d, root + h, 0, degree, True, degree.pc in tones)
        for (at, d), h, degree in zip(rhythm, heights, degrees, strict=True)
    )
    phrase = Phrase("motif", "motif", (bar,), span, notes)
    shape = tuple(h - heights[0] for h in heights)
    pc = (root + heights[0]) % 12
    return Placement(
        phrase, bar.start, index, pc, tuple(degrees), span, shape, rhythm[-1][1], False, True
    )
