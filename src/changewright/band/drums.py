"""The drums: time, remarks on the snare and kick, and fills that mark the form."""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from random import Random

from changewright.band.feel import PIECES, DrumManner, Feel, Groove
from changewright.band.song import PlayedBar, Song, fitting, steps_in
from changewright.band.touch import Hit

__all__ = ["drumming"]

_KICK, _SNARE, _CRASH, _RIDE = (PIECES[p] for p in ("kick", "snare", "crash", "ride"))
_FORCE = {"X": 0.85, "x": 0.6, "o": 0.32, ",": 0.12}
_LENGTH = Fraction(1, 4)
_TIME_DURING_FILL = (PIECES["foot-hat"],)


def drumming(song: Song, feel: Feel, level: int, seed: int) -> tuple[Hit, ...]:
    """Play time for all choruses; softer on the first, busier as choruses build."""
    rng = Random(f"drums/{seed}")
    hits: list[Hit] = []
    for before, bar in zip((None, *song.bars[:-1]), song.bars, strict=True):
        if bar.bar.number > 0:
            played = _bar(song, bar, before, feel.drums, level, rng)
            hits += (_shaded(hit, song.swell(bar)) for hit in played)
    hits += _final(song, feel.drums)
    return tuple(sorted(_once(hits)))


def _bar(
    song: Song,
    bar: PlayedBar,
    before: PlayedBar | None,
    manner: DrumManner,
    level: int,
    rng: Random,
) -> Iterator[Hit]:
    build = song.build(bar)
    filled = bar.closes and level >= 2 and bool(manner.fills)
    for hit in _grooves(bar, manner.time, rng):
        if not (filled and hit.onset >= _fill_from(bar) and hit.midi not in _TIME_DURING_FILL):
            yield hit
    if filled:
        fills = _grooves(bar, _some(manner.fills, rng), rng)
        yield from (h for h in fills if h.onset >= _fill_from(bar))
    elif level >= 3 and rng.random() < manner.remark_rate * _talk(bar, build):
        yield from _grooves(bar, _some(manner.remarks, rng), rng)
    if manner.crash and bar.opens and before is not None and level >= 2:
        yield Hit(bar.start, _LENGTH, _CRASH, 0.4)
        yield Hit(bar.start, _LENGTH, _KICK, 0.45)


def _talk(bar: PlayedBar, build: float) -> float:
    """More remarks as choruses build, and at the end of every phrase of four bars."""
    return (0.6 + 0.7 * build) * (1.5 if bar.phrase_ends else 1.0)


def _fill_from(bar: PlayedBar) -> Fraction:
    """Fills take the second half of a bar."""
    return bar.place(Fraction(len(bar.beats), 2))


def _some(choices: Mapping[int, tuple[Groove, ...]], rng: Random) -> Mapping[int, Groove]:
    return {beats: rng.choice(many) for beats, many in choices.items()}


def _grooves(bar: PlayedBar, grooves: Mapping[int, Groove], rng: Random) -> Iterator[Hit]:
    shift = 0
    for length, beats in fitting(grooves, len(bar.beats)):
        for piece, pattern in grooves[length].items():
            for step in steps_in(pattern, bar.bar.number - 1, shift, beats):
                force = _FORCE.get(step.sign, 0.6) + rng.uniform(-0.03, 0.03)
                yield Hit(bar.place(step.at), _LENGTH, piece, max(force, 0.02))
        shift += beats


def _shaded(hit: Hit, by: float) -> Hit:
    return Hit(hit.onset, hit.duration, hit.midi, hit.force * by)


def _final(song: Song, manner: DrumManner) -> Iterator[Hit]:
    """The stroke after the last bar line, left to ring."""
    if not song.ends:
        return
    yield Hit(song.length, Fraction(2), _RIDE if not manner.crash else _CRASH, 0.38)
    yield Hit(song.length, Fraction(2), _KICK, 0.5)


def _once(hits: list[Hit]) -> list[Hit]:
    """A piece struck twice at once sounds once, as hard as the harder stroke."""
    hardest: dict[tuple[Fraction, int], Hit] = {}
    for hit in hits:
        key = (hit.onset, hit.midi)
        if key not in hardest or hardest[key].force < hit.force:
            hardest[key] = hit
    return list(hardest.values())
