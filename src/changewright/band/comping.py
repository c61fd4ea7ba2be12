"""Comping: rhythms that leave room, and voicings led by the composing engine."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import exp
from operator import attrgetter
from random import Random

import numpy as np

from changewright.band.feel import Feel
from changewright.band.pattern import Pattern, Step
from changewright.band.solved import solved
from changewright.band.song import PlayedBar, Song, Stretch, fitting, steps_in
from changewright.band.touch import Hit
from changewright.band.voicing import Voicing, shells, voicings
from changewright.line.grammar import Grammar, Move, Preference, Rule
from changewright.line.slot import Bools, Floats, Slot
from changewright.line.trellis import Trellis
from changewright.music.bar import Quarters, beat_label

__all__ = ["VOICE_LEADING", "comping"]

_FORCE = {"X": 0.8, "x": 0.6, "o": 0.42}
_VOICES = ("v1", "v2", "v3", "v4")
_UP_TEMPO, _UP_HITS = 208, 2.0
_THIRD = 4
_PLAIN_LEVELS = 2
_SHELL_FORCE = 0.14  # two notes carry as far as four when struck harder


@dataclass(frozen=True, slots=True)
class _Stab:
    onset: Quarters
    duration: Quarters
    stretch: Stretch
    bar: PlayedBar
    force: float


def comping(song: Song, feel: Feel, bpm: float, level: int, seed: int) -> tuple[Hit, ...]:
    """Play the chords of all choruses: shells for beginners, rootless shapes from level 3."""
    stabs = list(_stabs(song, feel, bpm, level, Random(f"comping/{seed}")))
    if level <= _PLAIN_LEVELS or feel.comping.short >= 1:
        stabs = _every_chord_heard(song, stabs)
    stabs += _final(song)
    if not stabs:
        return ()
    choices = [shells(s.stretch.chord) if level <= 2 else _rich(s.stretch) for s in stabs]
    slots = tuple(_slot(stab, some) for stab, some in zip(stabs, choices, strict=True))
    drawn = solved(Trellis(VOICE_LEADING, slots)).sample(
        1, np.random.default_rng([seed % 2**64, 3])
    )[0]
    louder = _SHELL_FORCE if level <= _PLAIN_LEVELS else 0.0
    return tuple(
        Hit(stab.onset, stab.duration, midi, (stab.force + louder) * song.swell(stab.bar))
        for stab, some, choice in zip(stabs, choices, drawn, strict=True)
        for midi in some[int(choice)]
    )


def _rich(stretch: Stretch) -> tuple[Voicing, ...]:
    return voicings(stretch.chord, stretch.scale) or shells(stretch.chord)


def _stabs(song: Song, feel: Feel, bpm: float, level: int, rng: Random) -> Iterator[_Stab]:
    chosen: list[Pattern] = []
    since = 0
    for bar in song.bars:
        if bar.bar.number == 0:
            continue
        groups = fitting(feel.comping.cells, len(bar.beats))
        if bar.opens or since >= 2 or [p.beats for p in chosen] != [n for n, _ in groups]:
            wanted = _density(feel, bpm, level, song.build(bar))
            cells, total = feel.comping.cells, sum(n for n, _ in groups)
            chosen = [_cell(_plain(cells[n], level), wanted * n / total, rng) for n, _ in groups]
            since = 0
        beats = [taken for _, taken in groups]
        yield from _bar(song, bar, list(zip(chosen, beats, strict=True)), since)
        since += 1


def _density(feel: Feel, bpm: float, level: int, build: float) -> float:
    """Hits a bar aimed at: few for beginners and at up tempo, more as choruses build."""
    wanted = feel.comping.density * (0.55 + 0.1 * min(level, 4) + 0.5 * build)
    return min(wanted, _UP_HITS / 2) if feel.swung and bpm > _UP_TEMPO else wanted


def _cell(cells: Sequence[Pattern], density: float, rng: Random) -> Pattern:
    weights = [exp(-2.0 * (cell.hits_a_bar - density) ** 2) for cell in cells]
    return rng.choices(cells, weights)[0]


def _plain(cells: Sequence[Pattern], level: int) -> Sequence[Pattern]:
    """For beginners, the rhythms that don't sound a chord before its bar."""
    if level > _PLAIN_LEVELS:
        return cells
    on_time = [cell for cell in cells if not any(_is_early(s, cell.beats) for s in _all(cell))]
    return on_time or cells


def _all(cell: Pattern) -> list[Step]:
    return [step for bar in cell.bars for step in bar]


def _is_early(step: Step, beats: int) -> bool:
    return step.at > beats - 1


def _every_chord_heard(song: Song, stabs: Sequence[_Stab]) -> list[_Stab]:
    """Add a chord where one would pass unheard: a beginner finds his way by it, and held chords
    must not hang over into the next."""
    heard = {stab.stretch.onset for stab in stabs}
    made = list(stabs)
    for bar in song.bars:
        for stretch in song.starting_in(bar) if bar.bar.number else ():
            if stretch.onset not in heard and not stretch.chord.is_silent:
                after = min((s.onset for s in stabs if s.onset > stretch.onset), default=bar.end)
                end = min(after, stretch.end, bar.end)
                made.append(_Stab(stretch.onset, end - stretch.onset, stretch, bar, 0.5))
    return sorted(made, key=attrgetter("onset"))


def _bar(
    song: Song, bar: PlayedBar, cells: Sequence[tuple[Pattern, int]], turn: int
) -> Iterator[_Stab]:
    shift = 0
    for cell, beats in cells:
        for step in steps_in(cell, turn, shift, beats):
            stab = _stab(song, bar, step)
            if not stab.stretch.chord.is_silent:
                yield stab
        shift += beats


def _stab(song: Song, bar: PlayedBar, step: Step) -> _Stab:
    """One hit. On the offbeat just before a change it already plays the next chord."""
    onset, end = bar.place(step.at), bar.place(step.at + step.length)
    stretch = song.at(onset)
    offbeat = step.at.denominator > 1
    if offbeat and stretch.end - onset <= bar.beats[0] / 2:
        stretch = song.at(stretch.end)
    else:
        end = min(end, stretch.end)
    return _Stab(onset, end - onset, stretch, bar, _FORCE.get(step.sign, 0.6))


def _final(song: Song) -> Iterator[_Stab]:
    home = song.after
    if song.ends:
        yield _Stab(song.length, home.end - home.onset, home, song.bars[-1], 0.6)


def _slot(stab: _Stab, choices: Sequence[Voicing]) -> Slot:
    full = [tuple(v) + (v[-1],) * (len(_VOICES) - len(v)) for v in choices]
    columns = tuple((name, tuple(v[i] for v in full)) for i, name in enumerate(_VOICES))
    return Slot(
        at=stab.onset,
        bar=stab.bar.bar.number,
        beat=beat_label(stab.onset - stab.bar.start, stab.bar.bar.meter),
        columns=columns,
        facts=(("opens", int(stab.bar.opens)),),
        lean=tuple(-(((v[0] + v[-1]) / 2 - 60.5) ** 2) / 60 for v in full),
    )


def _all_jump(move: Move) -> Bools:
    """All voices jump the same way by more than a third: allowed only where a section opens."""
    steps = [move.after[v] - move.before[v] for v in _VOICES]
    up = np.minimum.reduce(steps) > _THIRD
    down = np.maximum.reduce(steps) < -_THIRD
    found: Bools = (up | down) & (not move.now.get("opens"))
    return found


def _moves_little(move: Move) -> Floats:
    total = sum(np.abs(move.after[v] - move.before[v]) for v in _VOICES)
    return np.asarray(-0.35 * total, dtype=np.float64)


def _top_sings(move: Move) -> Floats:
    """The top note moves by step, or stays."""
    size = np.abs(move.after["v4"] - move.before["v4"])
    return np.asarray(-0.35 * np.maximum(size - 2, 0), dtype=np.float64)


VOICE_LEADING = Grammar(
    rules=(Rule("no jump of the whole hand", _all_jump, repair="let the whole hand jump"),),
    preferences=(Preference("least motion", _moves_little), Preference("top line", _top_sings)),
)
"""What leads one voicing into the next."""
