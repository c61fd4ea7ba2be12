"""Takes of exercises with mistakes planted in known places, and how to score a verdict on them."""

from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from benchmarks.takes import Played
from changewright.chart.model import form_of
from changewright.ear.hearing import Fault, Hearing
from changewright.music.clock import Clock
from changewright.music.line import Line, Note
from changewright.music.promise import Lands, Promise
from changewright.music.sheet import Recipe, Sheet
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name, Pitch

__all__ = ["SHAPES", "Planted", "Tally", "exercise", "is_told", "lost_bar", "planted", "tally"]

_BLUES = (("I7", 16), ("IV7", 8), ("I7", 8), ("V7", 4), ("IV7", 4), ("I7", 8))
_STEPS = {"I7": "P1", "IV7": "P4", "V7": "P5"}
SHAPES = {
    "root-up": ((0, 1, 2, 3), Fraction(1)),
    "re-ordered": ((3, 1, 2, 0), Fraction(1)),
    "guide tones": ((1, 3), Fraction(2)),
    "eighths": ((0, 1, 2, 3, 2, 1, 2, 1), Fraction(1, 2)),
}
"""Shapes of exercises on the blues: which chord tones, each how many quarters long."""


@dataclass(frozen=True, slots=True)
class Planted:
    """A take as played and where it goes wrong: (bar, beat, fault)."""

    notes: tuple[Played, ...]
    mistakes: frozenset[tuple[int, str, Fault]]


def exercise(instrument: Instrument, shape: str, key: Key, bpm: int, level: int = 2) -> Sheet:
    """A blues exercise of one shape, within the instrument's comfortable range."""
    symbols = [(f"{key.tonic + Interval.parse(_STEPS[s])}7", beats) for s, beats in _BLUES]
    form = form_of(symbols, key, title="Slack Water Blues")
    order, length = SHAPES[shape]
    low = instrument.concert_range("comfort").low
    notes: list[Note] = []
    promises: list[Promise] = []
    for bar in form.bars:
        chord = bar.changes[0].chord
        for k, which in enumerate(order):
            degree = chord.four[which]
            pitch = _from(chord.tone(degree), low)
            notes.append(Note(bar.start + k * length, length, pitch, degree=degree))
        promises.append(Lands(bar.start, (chord.four[order[0]],)))
    recipe = Recipe("bench", shape, level, str(key), instrument.id, 1)
    line = Line(tuple(notes), form.length)
    return Sheet(recipe, form.title, "", key, instrument, form.bars, line, tuple(promises), bpm)


def _from(name: Name, low: Pitch) -> Pitch:
    pitch = name.at(0)
    while pitch.midi < low.midi:
        pitch = pitch + Interval(0, 1)
    return pitch


def planted(
    sheet: Sheet, clock: Clock, seed: int, wrong: int = 2, missing: int = 2, late: int = 1
) -> Planted:
    """Play a sheet as a person would, with so many mistakes of each kind in places drawn by the
    seed, never two in neighbouring notes."""
    rng = np.random.default_rng(seed)
    faults = _places(sheet, rng, wrong, missing, late)
    latency, feel = rng.uniform(0.0, 0.15), rng.uniform(0.0, 0.03)
    notes, mistakes = [], set()
    for k, note in enumerate(sheet.line.notes):
        played = _human(note, clock, rng, latency + feel)
        fault = faults.get(k)
        if fault is not None:
            bar = sheet.bar_at(note.onset)
            mistakes.add((bar.number, bar.beat_of(note.onset), fault))
        if fault is Fault.WRONG_NOTE:
            played = replace(played, midi=played.midi + int(rng.choice([-3, -2, -1, 1, 2, 3, 5])))
        if fault is Fault.LATE:
            by = float(note.duration) * clock.quarter_s * rng.uniform(0.5, 0.6)
            played = replace(
                played, onset_s=played.onset_s + by, length_s=max(0.08, played.length_s - by)
            )
        if fault is not Fault.NOT_HEARD:
            notes.append(played)
    return Planted(tuple(notes), frozenset(mistakes))


def _places(
    sheet: Sheet, rng: np.random.Generator, wrong: int, missing: int, late: int
) -> dict[int, Fault]:
    faults: dict[int, Fault] = {}
    wanted = [Fault.WRONG_NOTE] * wrong + [Fault.NOT_HEARD] * missing + [Fault.LATE] * late
    for fault in wanted:
        for k in rng.permutation(len(sheet.line.notes)):
            near = any(abs(int(k) - other) < 2 for other in faults)
            long_enough = fault is not Fault.LATE or sheet.line.notes[k].duration >= 1
            if not near and long_enough:
                faults[int(k)] = fault
                break
    return faults


def _human(note: Note, clock: Clock, rng: np.random.Generator, behind_s: float) -> Played:
    onset = clock.to_seconds(note.onset) + behind_s + float(rng.normal(0, 0.018))
    length = clock.to_seconds(note.end) - clock.to_seconds(note.onset)
    return Played(
        max(0.0, onset),
        max(0.08, length * float(rng.uniform(0.65, 0.95))),
        note.pitch.midi,
        float(rng.uniform(0.55, 1.0)),
        bool(rng.random() < 0.2),
    )


def lost_bar(sheet: Sheet, clock: Clock, seed: int) -> tuple[Planted, int, int]:
    """A take that from some bar on plays a bar ahead or behind; with that bar and the beats.

    Bars where the form itself is the same a bar later are no place to notice; the draw takes
    a bar from which at least four bars sound unlike."""
    rng = np.random.default_rng(seed)
    first, ahead = int(rng.choice([5, 7, 9])), int(rng.choice([-1, 1]))
    begin, shift = sheet.bars[first - 1].start, 4 * ahead
    moved = [
        replace(n, onset=n.onset - shift if n.onset >= begin + max(shift, 0) else n.onset)
        for n in sheet.line.notes
        if n.onset < begin or (n.onset >= begin + max(shift, 0) and n.onset - shift < sheet.length)
    ]
    played = Line(tuple(moved), sheet.length)
    take = planted(sheet.with_line(played), clock, seed, 0, 0, 0)
    return take, first, shift


def is_told(hearing: Hearing, bar: int, beats: int) -> bool:
    """Is a lost bar told once, with its size, and at most two bars after its place?"""
    slips = hearing.placement.slips
    return len(slips) == 1 and slips[0].beats == beats and 0 <= slips[0].bar - bar <= 2


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts over takes: mistakes named rightly, named though not there, planted, found; bars of
    perfect takes and those criticised."""

    right: int = 0
    false: int = 0
    planted: int = 0
    bars: int = 0
    criticised: int = 0
    unjudged: int = 0

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(
            self.right + other.right,
            self.false + other.false,
            self.planted + other.planted,
            self.bars + other.bars,
            self.criticised + other.criticised,
            self.unjudged + other.unjudged,
        )

    @property
    def precision(self) -> float:
        """Of what was called wrong, how much was."""
        return self.right / max(1, self.right + self.false)

    @property
    def recall(self) -> float:
        """Of what was planted, how much was found."""
        return self.right / max(1, self.planted)

    @property
    def alarms(self) -> float:
        """Share of a perfect take's bars that draw a criticism."""
        return self.criticised / max(1, self.bars)


def tally(hearing: Hearing, take: Planted) -> Tally:
    """Compare a verdict with what was planted: place and kind must both agree."""
    named = {(m.bar, m.beat, m.fault) for m in hearing.mistakes} if hearing.judged else set()
    hit = len(named & take.mistakes)
    perfect = not take.mistakes
    return Tally(
        hit,
        len(named - take.mistakes),
        len(take.mistakes),
        len(hearing.bars) if perfect else 0,
        len({bar for bar, _, _ in named}) if perfect else 0,
        int(not hearing.judged),
    )
