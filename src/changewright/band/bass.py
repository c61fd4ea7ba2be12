"""The bass: rhythm first, from the feel; then every pitch at once, from the composing engine."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from random import Random

import numpy as np

from changewright.band.feel import BassManner, Feel
from changewright.band.solved import solved
from changewright.band.song import PlayedBar, Song, Stretch, fitting, steps_in
from changewright.band.touch import Hit
from changewright.band.walk import BASS_GRAMMAR, BASS_HIGH, BASS_LOW, Kind
from changewright.line.slot import Slot
from changewright.line.trellis import Trellis
from changewright.music.bar import Quarters, beat_label
from changewright.theory.chord import Chord
from changewright.theory.scale import Scale

__all__ = ["GHOST", "bass_line"]

_CENTRE, _WIDTH = 39.5, 6.0
_FREE, _APPROACH, _NEXT = "w", "a", "n"
_WANTED = {
    "R": (Kind.ROOT,),
    "3": (Kind.THIRD,),
    "5": (Kind.FIFTH,),
    "7": (Kind.SEVENTH,),
    "s": (Kind.THIRD, Kind.FIFTH),
}
_KNOWING = 6  # the level from which a student hears the chord without its root
_CHANGE = (Kind.ROOT, Kind.THIRD, Kind.FIFTH)
GHOST = 0.12
"""The force of a skip note: felt more than heard."""


@dataclass(frozen=True, slots=True)
class _Spot:
    """A note of the bass's rhythm: when, how long, over which chord, and what is wanted. It
    ``stays`` on a pedal."""

    onset: Quarters
    duration: Quarters
    stretch: Stretch
    want: str
    bar: PlayedBar
    change: bool = False
    strong: bool = False
    before_change: bool = False
    stays: bool = False


def bass_line(song: Song, feel: Feel, level: int, seed: int) -> tuple[Hit, ...]:
    """Compose the bass of all choruses: roots or strong chord tones where chords change, reached
    by semitone, step or fifth, and the root of the last chord where the band ends."""
    rng = Random(f"bass/{seed}")
    spots = _marked([*_rhythm(song, feel, level, rng), *_ending(song)])
    if not spots:
        return ()
    slots = tuple(_slot(spot, knows=level >= _KNOWING) for spot in spots)
    trellis = Trellis(BASS_GRAMMAR, slots)
    line = solved(trellis).sample(1, np.random.default_rng([seed % 2**64, 2]))[0]
    hits = [
        _hit(song, spot, slot, int(c))
        for spot, slot, c in zip(spots, trellis.slots, line, strict=True)
    ]
    return tuple(sorted([*hits, *_skips(spots, hits, feel.bass, level, rng)]))


def _hit(song: Song, spot: _Spot, slot: Slot, choice: int) -> Hit:
    pitch = slot.columns[0][1][choice]
    force = (0.72 if spot.change else 0.62) * song.swell(spot.bar)
    return Hit(spot.onset, spot.duration, pitch, force)


def _rhythm(song: Song, feel: Feel, level: int, rng: Random) -> Iterator[_Spot]:
    """Lay out every bar, rests where there is no chord."""
    for bar in song.bars:
        if bar.bar.number == 0:
            continue
        for spot in _cut_by_changes(song, bar, list(_steps(song, bar, feel, level, rng))):
            if not spot.stretch.chord.is_silent:
                yield spot


def _steps(song: Song, bar: PlayedBar, feel: Feel, level: int, rng: Random) -> Iterator[_Spot]:
    in_two = level <= 2 or (feel.bass.two_first and song.choruses > 1 and bar.chorus <= 0)
    if feel.bass.walks and not in_two:
        if song.is_pedal(song.at(bar.start)):
            yield from _pedal(song, bar)
            return
        for beat, length in enumerate(bar.beats):
            yield _spot(song, bar, Fraction(beat), bar.place(Fraction(beat)) + length, _FREE)
        return
    patterns = feel.bass.two if in_two and feel.bass.two else feel.bass.patterns
    shift = 0
    for rhythm, beats in fitting(patterns, len(bar.beats)):
        chosen = rng.choice(patterns[rhythm])
        for step in steps_in(chosen, bar.bar.number - 1, shift, beats):
            yield _spot(song, bar, step.at, bar.place(step.at + step.length), step.sign)
        shift += beats


def _pedal(song: Song, bar: PlayedBar) -> Iterator[_Spot]:
    """A walking bass stands still under moving chords: two strokes a bar, in three one."""
    beats = len(bar.beats)
    edges = (0, beats // 2, beats) if beats >= 4 else (0, beats)
    for first, after in pairwise(edges):
        yield _spot(song, bar, Fraction(first), bar.place(Fraction(after)), "R")


def _spot(song: Song, bar: PlayedBar, at: Fraction, end: Quarters, want: str) -> _Spot:
    onset = bar.place(at)
    stretch = song.at(onset)
    if want == _NEXT:
        stretch, want = song.at(bar.end if stretch.end > bar.end else stretch.end), "R"
    stays = song.is_pedal(stretch)
    want = "R" if stays else want
    return _Spot(onset, end - onset, stretch, want, bar, strong=at % 2 == 0, stays=stays)


def _cut_by_changes(song: Song, bar: PlayedBar, spots: list[_Spot]) -> list[_Spot]:
    """Give every new chord its note: one is added where a pattern has none, and no note of the
    old chord sounds into the new one."""
    made = list(spots)
    for stretch in song.starting_in(bar):
        if _announced(made, stretch):
            continue
        there = next((s for s in made if s.onset == stretch.onset), None)
        if there is None:
            made.append(
                _Spot(stretch.onset, bar.end - stretch.onset, stretch, "R", bar, strong=True)
            )
        elif there.want not in (_FREE, "R"):
            made[made.index(there)] = replace(there, want="R")
    made.sort(key=lambda s: s.onset)
    ends = [*(s.onset for s in made[1:]), bar.end]
    return [
        replace(s, duration=min(s.duration, end - s.onset))
        for s, end in zip(made, ends, strict=True)
    ]


def _announced(spots: Sequence[_Spot], stretch: Stretch) -> bool:
    """Tell whether a note just before a chord has already sounded its root."""
    return any(
        s.stretch is stretch and s.onset < stretch.onset <= s.onset + s.duration for s in spots
    )


def _ending(song: Song) -> Iterable[_Spot]:
    """The note after the last bar line, on which everyone stops."""
    home = song.after
    if song.ends:
        yield _Spot(song.length, home.end - home.onset, home, "R", song.bars[-1], strong=True)


def _marked(spots: Sequence[_Spot]) -> list[_Spot]:
    """Mark where chords change and which note leads there."""
    changes = [i == 0 or spots[i - 1].stretch.chord != s.stretch.chord for i, s in enumerate(spots)]
    following = [*changes[1:], False]
    return [
        replace(spot, change=new, before_change=leads)
        for spot, new, leads in zip(spots, changes, following, strict=True)
    ]


def _rows(spot: _Spot) -> list[tuple[int, Kind]]:
    """What may sound there: every pitch in range with its kind."""
    kinds = ((midi, _kind(spot, midi)) for midi in range(BASS_LOW, BASS_HIGH + 1))
    return [(midi, kind) for midi, kind in kinds if kind is not None]


def _slot(spot: _Spot, knows: bool) -> Slot:
    # a chord whose seventh is its slash bass has no other seventh: its root stands in
    rows = _rows(spot) or _rows(replace(spot, want="R"))
    pitches = tuple(midi for midi, _ in rows)
    return Slot(
        at=spot.onset,
        bar=spot.bar.bar.number,
        beat=beat_label(spot.onset - spot.bar.start, spot.bar.bar.meter),
        columns=(("pitch", pitches), ("kind", tuple(int(kind) for _, kind in rows))),
        facts=(
            ("change", int(spot.change)),
            ("stays", int(spot.stays)),
            ("known", int(knows and not _opens(spot))),
            ("first", int(spot.onset == spot.bar.start)),
            ("strong", int(spot.strong)),
            ("walks", int(spot.want == _FREE)),
        ),
        lean=tuple(-(((midi - _CENTRE) / _WIDTH) ** 2) / 2 for midi in pitches),
    )


def _opens(spot: _Spot) -> bool:
    """Tell whether a section begins there, or the band ends: the root tells everyone where."""
    return spot.onset >= spot.bar.end or (spot.bar.opens and spot.onset == spot.bar.start)


def _kind(spot: _Spot, midi: int) -> Kind | None:
    """What a pitch is over a spot's chord, or None where it must not sound there."""
    kind = _kinds(spot.stretch.chord, spot.stretch.scale)[midi % 12]
    if spot.want in _WANTED:
        return kind if kind in _WANTED[spot.want] or _stands_for(spot, kind) else None
    if spot.change:
        return kind if kind in _CHANGE else None
    if kind is Kind.CHROMATIC:
        leads = spot.before_change or spot.want == _APPROACH
        return kind if leads and not spot.strong else None
    if kind is Kind.SCALE and spot.strong:
        return None
    return kind


def _stands_for(spot: _Spot, kind: Kind | None) -> bool:
    """A chord without a fifth or third has its root there instead."""
    chord = spot.stretch.chord
    lacks = {"5": chord.fifth is None, "3": chord.third is None, "7": chord.seventh is None}
    return kind is Kind.ROOT and lacks.get(spot.want, False)


@lru_cache(maxsize=1024)
def _kinds(chord: Chord, scale: Scale | None) -> tuple[Kind | None, ...]:
    """What each of the twelve pitch classes is over a chord."""
    tones, inside = _tones(chord), scale.pcs if scale is not None else frozenset()
    return tuple(_kind_over(chord, tones, inside, pc) for pc in range(12))


def _kind_over(
    chord: Chord, tones: Mapping[int, Kind], inside: frozenset[int], pc: int
) -> Kind | None:
    if chord.root is None:
        return None
    if chord.bass is not None and pc == chord.bass.pc:
        return Kind.ROOT
    if pc in tones:
        return tones[pc]
    if _clashes(chord, pc):
        return None
    return Kind.SCALE if pc in inside else Kind.CHROMATIC


def _tones(chord: Chord) -> dict[int, Kind]:
    """Chord tones by pitch class; under a slash the written root is a fifth's worth, no more."""
    if chord.root is None:
        return {}
    roots = Kind.ROOT if chord.bass is None else Kind.FIFTH
    parts = ((chord.seventh, Kind.SEVENTH), (chord.fifth, Kind.FIFTH), (chord.third, Kind.THIRD))
    found = {chord.tone(degree).pc: kind for degree, kind in parts if degree is not None}
    return {**found, chord.root.pc: roots}


def _clashes(chord: Chord, pc: int) -> bool:
    """The other third: a major third under a minor chord, which everyone hears."""
    if chord.root is None or chord.third is None:
        return False
    interval = (pc - chord.root.pc) % 12
    return interval in (3, 4) and interval != chord.third.pc


def _skips(
    spots: Sequence[_Spot], hits: Sequence[Hit], manner: BassManner, level: int, rng: Random
) -> Iterator[Hit]:
    """Ghosted offbeats now and then: the note again, damped, before the next beat."""
    if level <= 2 or not manner.skips:
        return
    for spot, hit in zip(spots, hits, strict=True):
        walking = spot.want == _FREE and spot.duration == 1
        if walking and rng.random() < manner.skips / len(spot.bar.beats):
            half = spot.duration / 2
            yield Hit(spot.onset + half, half / 2, hit.midi, GHOST)
