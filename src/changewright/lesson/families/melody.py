"""Playing round the melody: as written, in a rhythm of one's own, with approach notes, with its
rests filled, paraphrased, or a solo that keeps the first note of each of its phrases.

Source: teaching practice. The melody is the chart's; this package never supplies one.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from random import Random

import numpy as np

from changewright.errors import InputError
from changewright.lesson.cells import cells_for, centre_of
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground, Patch, degree_over
from changewright.lesson.lines import line_promises, line_trellis, stays, write_line
from changewright.lesson.rhythm import Flow, compose_rhythm, onsets_of
from changewright.lesson.spots import Approach, Spot, phrased, spots_of
from changewright.music.bar import Bar, Quarters
from changewright.music.line import Note, Role
from changewright.music.promise import Leaps, Promise
from changewright.theory.pitch import Degree

__all__ = ["FAMILY"]

_EIGHTH = Fraction(1, 2)
_BELOW = Approach("a semitone below", (-1,))
_ABOVE = Approach("the scale's note above", ("up",))


@dataclass(frozen=True, slots=True)
class _Sung:
    """A note of the melody where it is to be played, with the chord it belongs to."""

    at: Quarters
    duration: Quarters
    midi: int
    patch: Patch
    degree: Degree


def plan(ground: Ground, dice: Random) -> Plan:
    """The melody's own notes fixed, and round them what the form asks for."""
    sung = list(_sung(ground))
    if not sung:
        raise InputError(
            "the chart has no melody to play round",
            remedy="Write it under the changes, on a line that begins with 'melody |', or choose "
            "another family.",
        )
    named: tuple[str, ...] = ground.level.setting("melody", "forms", ("as-written", "own-rhythm"))
    variant = ground.variant or dice.choice(named)
    spots = phrased(_FORMS[variant](ground, sung, dice))
    trellis, pitches = line_trellis(ground, spots)

    def promise(notes: tuple[Note, ...]) -> tuple[Promise, ...]:
        # a melody leaps as it will
        made = (p for p in line_promises(ground, spots, notes) if not isinstance(p, Leaps))
        return (*made, *stays(spots))

    remarks = (_FOLDED,) if ground.fallback and _has_outside(ground) else ()
    return Plan(trellis, write_line(spots, pitches), promise, _TOLD[variant], remarks)


def _sung(ground: Ground) -> Iterator[_Sung]:
    notes = ground.melody.notes if ground.melody else ()
    shift = _octaves(ground)
    for note in notes:
        patch = _patch(ground, note)
        if patch is None or patch.chord.root is None:
            continue
        degree = degree_over(patch.chord.root.fifths, note.pitch.fifths)
        midi = note.pitch.midi + shift
        midi = _folded(ground, midi) if ground.fallback else midi
        yield _Sung(note.onset, note.duration, midi, patch, degree)


def _patch(ground: Ground, note: Note) -> Patch | None:
    """The chord of a note; of one held over a change from less than a beat before, the next."""
    now = ground.patch_at(note.onset)
    if now is not None and note.end > now.end and now.end - note.onset < 1:
        return ground.patch_at(now.end) or now
    return now


def _octaves(ground: Ground) -> int:
    """The whole octaves by which most of the melody lies in the player's range."""
    low, high = ground.span.low.midi, ground.span.high.midi
    heights = [n.pitch.midi for n in ground.melody.notes] if ground.melody else []

    def cost(shift: int) -> tuple[int, int]:
        outside = sum(not low <= h + shift <= high for h in heights)
        return outside, abs(sum(heights) + (shift - ground.middle) * len(heights))

    return min(range(-48, 49, 12), key=cost)


def _folded(ground: Ground, midi: int) -> int:
    low, high = ground.span.low.midi, ground.span.high.midi
    if midi > high:
        return midi - 12 * -((high - midi) // 12)
    return midi + 12 * -((midi - low) // 12) if midi < low else midi


def _has_outside(ground: Ground) -> bool:
    shift, notes = _octaves(ground), ground.melody.notes if ground.melody else ()
    low, high = ground.span.low.midi, ground.span.high.midi
    return any(not low <= n.pitch.midi + shift <= high for n in notes)


def _fixed(one: _Sung) -> Spot:
    pool = (one.degree,)
    return Spot(
        one.at, one.duration, one.patch, pool, target=pool, role=Role.PHRASE, fixed=one.midi
    )


def _own_rhythm(ground: Ground, sung: Sequence[_Sung], dice: Random) -> list[Spot]:
    """Bar by bar, as many notes at other times; a note stays with its chord."""
    moved: list[_Sung] = []
    for bar in ground.reading.bars:
        inside = [one for one in sung if bar.start <= one.at < bar.end]
        timings = list(_timings(ground, bar, inside))
        chosen = dice.choice(timings) if timings else [(s.at, s.duration) for s in inside]
        moved += [replace(s, at=at, duration=d) for s, (at, d) in zip(inside, chosen, strict=True)]
    return [_fixed(one) for one in _unlapped(moved)]


def _timings(
    ground: Ground, bar: Bar, inside: Sequence[_Sung]
) -> Iterator[list[tuple[Quarters, Quarters]]]:
    own = [one.at - bar.start for one in inside]
    for cell in cells_for(ground.level, bar).cells:
        if len(cell.notes) != len(inside) or [o for o, _ in cell.notes] == own or not own:
            continue
        timed = [(bar.start + o, min(d, bar.length - o)) for o, d in cell.notes]
        if all(ground.patch_at(at) == s.patch for s, (at, _) in zip(inside, timed, strict=True)):
            yield timed


def _unlapped(sung: Sequence[_Sung]) -> list[_Sung]:
    kept = [
        replace(a, duration=min(a.duration, b.at - a.at)) for a, b in pairwise(sung) if b.at > a.at
    ]
    return [*kept, sung[-1]]


def _approaches(ground: Ground, sung: Sequence[_Sung], dice: Random) -> list[Spot]:
    """Notes on the beat are led into by an eighth, taken from the rest or long note before."""
    able = {
        i: kinds
        for i in range(1, len(sung))
        if _led(ground, sung[i - 1], sung[i]) and (kinds := _kinds(ground, sung[i]))
    }
    chosen = {i for i in able if dice.random() < 0.75} or set(list(able)[:1])
    spots: list[Spot] = []
    for index, one in enumerate(sung):
        spot = _fixed(one)
        if index in chosen:
            figure = dice.choice(able[index])
            before = spots[-1]
            spots[-1] = replace(before, duration=min(before.duration, one.at - _EIGHTH - before.at))
            spots.append(
                Spot(one.at - _EIGHTH, _EIGHTH, one.patch, spot.pool, approach=figure, place=0)
            )
            spot = replace(spot, approach=figure, place=-1)
        spots.append(spot)
    return spots


def _kinds(ground: Ground, one: _Sung) -> list[Approach]:
    """What may lead into a note without leaving the range."""
    kinds = [_BELOW] if one.midi > ground.span.low.midi else []
    above = ground.level.number >= 4 and one.midi + 3 <= ground.span.high.midi
    return [*kinds, _ABOVE] if above else kinds


def _led(ground: Ground, before: _Sung, one: _Sung) -> bool:
    bar = ground.bar_at(one.at)
    on_beat = (one.at - bar.start) % bar.meter.beat == 0
    return on_beat and one.at - before.at >= 1 and ground.patch_at(one.at - _EIGHTH) is not None


def _fills(ground: Ground, sung: Sequence[_Sung], dice: Random) -> list[Spot]:
    """Where the melody rests for two beats or more, an answer to be filled in."""
    bars = ground.reading.bars
    rng = np.random.default_rng(dice.getrandbits(64))
    timed = onsets_of(bars, compose_rhythm(ground.level, bars, {}, rng, Flow(0.5)))
    ends = [one.at + one.duration for one in sung]
    gaps = list(zip(ends, [*(s.at for s in sung[1:]), ground.end], strict=True))
    spots = [_fixed(one) for one in sung]
    for start, end in gaps:
        if end - start >= 2:
            free = [(o, min(d, end - o)) for o, d in timed if start + _EIGHTH <= o < end]
            spots += [replace(s, blank=True) for s in spots_of(ground, free, "scale")]
    return sorted(spots, key=lambda s: s.at)


def _anchors(ground: Ground, sung: Sequence[_Sung], dice: Random) -> list[Spot]:
    """A line of one's own that starts each phrase where, and on what, the melody does."""
    kept = [b for a, b in pairwise(sung) if b.at - a.at - a.duration >= 1]
    return _round(ground, [sung[0], *kept], dice, ())


def _paraphrase(ground: Ground, sung: Sequence[_Sung], dice: Random) -> list[Spot]:
    """The melody's main notes where they stand, those between them anew; its rests stay."""
    main = [s for s in sung if _is_main(ground, s)] or list(sung[:1])
    rests = [(a.at + a.duration, b.at) for a, b in pairwise(sung) if b.at - a.at - a.duration >= 1]
    return _round(ground, main, dice, [*rests, (sung[-1].at + sung[-1].duration, ground.end)])


def _is_main(ground: Ground, one: _Sung) -> bool:
    """Tell whether a note is one by which the tune is known: long, or on a strong beat."""
    bar = ground.bar_at(one.at)
    return one.duration >= 1 or one.at - bar.start in (0, centre_of(bar))


def _round(
    ground: Ground,
    kept: Sequence[_Sung],
    dice: Random,
    rests: Iterable[tuple[Quarters, Quarters]],
) -> list[Spot]:
    """A line of one's own that meets the notes kept; silent before the first and in ``rests``."""
    bars = ground.reading.bars
    rng = np.random.default_rng(dice.getrandbits(64))
    timed = onsets_of(bars, compose_rhythm(ground.level, bars, {}, rng, Flow(0.5)))
    firsts = [replace(one, duration=min(one.duration, Fraction(1))) for one in kept]
    quiet = list(rests)
    free = []
    for at, duration in timed:
        after = min((a.at for a in firsts if a.at > at), default=ground.end)
        silent = at < kept[0].at or any(a <= at < b for a, b in quiet)
        if not silent and all(not (a.at <= at < a.at + a.duration) for a in firsts):
            free.append((at, min(duration, after - at)))
    spots = [*spots_of(ground, free, "scale"), *map(_fixed, firsts)]
    return sorted(spots, key=lambda s: s.at)


_FORMS: dict[str, Callable[[Ground, Sequence[_Sung], Random], list[Spot]]] = {
    "as-written": lambda _, sung, __: [_fixed(one) for one in sung],
    "own-rhythm": _own_rhythm,
    "approaches": _approaches,
    "fills": _fills,
    "paraphrase": _paraphrase,
    "anchors": _anchors,
}
_FOLDED = "Notes of the melody beyond your range lie an octave away."
_TOLD = {
    "as-written": "The melody as it is written: sing it first, then play it by heart.",
    "own-rhythm": "The melody's notes in their order, in another rhythm: then find your own.",
    "approaches": "The melody with approach notes: light into it, and let the tune sing.",
    "fills": "Play the melody, and answer it in its rests.",
    "paraphrase": "Tell the tune in your own words: its main notes stay, those between are new.",
    "anchors": "A solo that starts each phrase where the melody does.",
}

FAMILY = Family(
    id="melody",
    title="Round the melody",
    since=3,
    about="the chart's melody as written, varied, approached, answered, paraphrased, as anchors",
    plan=plan,
    variants=tuple(_FORMS),
    fallbacks=("", "folded"),
    avoids=False,
    wants_melody=True,
)
