"""Exercises that move bar by bar: a choice is a whole figure over one chord."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np

from changewright.lesson.ground import Ground, Patch, tone_at
from changewright.line.grammar import Mask, Move, Preference, Rule, Weights
from changewright.line.slot import Slot
from changewright.music.bar import Quarters
from changewright.music.line import Note, Role
from changewright.theory.pitch import Degree

__all__ = [
    "AWKWARD",
    "INNER_LEAP",
    "JOIN",
    "RANGE",
    "SAME_TWICE",
    "SMALL_JOIN",
    "Figure",
    "Tone",
    "figure_slot",
    "rising",
    "scored",
    "write_figures",
]


@dataclass(frozen=True, slots=True)
class Tone:
    """One note of a figure; ``offset`` counts from the figure's start."""

    offset: Quarters
    duration: Quarters
    midi: int
    degree: Degree
    role: Role = Role.CHORD_TONE


@dataclass(frozen=True, slots=True)
class Figure:
    """A few notes over one chord. ``kind`` names the shape; ``marks`` are further columns."""

    kind: str
    tones: tuple[Tone, ...]
    marks: tuple[tuple[str, int], ...] = ()

    @property
    def pitches(self) -> tuple[int, ...]:
        """The MIDI numbers in order."""
        return tuple(t.midi for t in self.tones)

    def moved(self, octaves: int) -> "Figure":
        """The figure some octaves higher."""
        tones = tuple(
            Tone(t.offset, t.duration, t.midi + 12 * octaves, t.degree, t.role) for t in self.tones
        )
        return Figure(self.kind, tones, self.marks)


def rising(chord_tones: Sequence[tuple[Degree, int]], low: int) -> list[tuple[Degree, int]]:
    """Stack degrees upwards from the first one at MIDI ``low``: each the next above the last.

    ``chord_tones`` are (degree, pitch class).
    """
    stacked: list[tuple[Degree, int]] = []
    floor = low
    for degree, pc in chord_tones:
        midi = floor + (pc - floor) % 12
        stacked.append((degree, midi))
        floor = midi + 1
    return stacked


def scored(
    kind: str,
    pitches: Sequence[tuple[Degree, int]],
    durations: Sequence[Quarters],
    role: Role = Role.CHORD_TONE,
    **marks: int,
) -> Figure:
    """Give pitches their durations one after another; a duration below 0 is a rest."""
    tones: list[Tone] = []
    at, taken = Fraction(0), iter(pitches)
    for duration in durations:
        if duration > 0:
            degree, midi = next(taken)
            tones.append(Tone(at, duration, midi, degree, role))
        at += abs(duration)
    return Figure(kind, tuple(tones), tuple(marks.items()))


def figure_slot(
    ground: Ground,
    patch: Patch,
    figures: Sequence[Figure],
    facts: Mapping[str, int],
    **more: object,
) -> Slot:
    """The slot of a patch. Columns: first, last, outside (semitones out of range), awkward
    (how many notes), inner (widest leap inside), kind, top, and the figures' own marks."""
    columns: dict[str, Iterable[int]] = {
        "first": [f.tones[0].midi for f in figures],
        "last": [f.tones[-1].midi for f in figures],
        "outside": [_outside(ground, f) for f in figures],
        "awkward": [sum(p in ground.awkward_midi for p in f.pitches) for f in figures],
        "inner": [max((abs(b - a) for a, b in pairwise(f.pitches)), default=0) for f in figures],
        "kind": [_code(f.kind) for f in figures],
        "rises": [int(np.sign(f.tones[-1].midi - f.tones[0].midi)) for f in figures],
    }
    for name in dict.fromkeys(n for f in figures for n, _ in f.marks):
        columns[name] = [dict(f.marks).get(name, 0) for f in figures]
    told = {"leap": ground.level.widest_leap, "nth": patch.nth, **facts}
    labels = tuple(_label(patch, f) for f in figures)
    return Slot.of(
        patch.start,
        patch.bar.number,
        patch.beat,
        columns,
        facts=tuple(told.items()),
        labels=labels,
        **more,
    )


def write_figures(
    patches: Sequence[Patch], choices: Sequence[Sequence[Figure]]
) -> Callable[[Sequence[int]], tuple[Note, ...]]:
    """The writer of a plan: from one choice a patch to notes."""

    def write(line: Sequence[int]) -> tuple[Note, ...]:
        return tuple(
            Note(
                patch.start + tone.offset,
                tone.duration,
                tone_at(patch.chord, tone.degree, tone.midi),
                tone.role,
                tone.degree,
            )
            for patch, figures, choice in zip(patches, choices, line, strict=True)
            for tone in figures[choice].tones
        )

    return write


def _outside(ground: Ground, figure: Figure) -> int:
    low, high = ground.span.low.midi, ground.span.high.midi
    return max(0, low - min(figure.pitches), max(figure.pitches) - high)


_KINDS: dict[str, int] = {}


def _code(kind: str) -> int:
    return _KINDS.setdefault(kind, len(_KINDS))


def _label(patch: Patch, figure: Figure) -> str:
    names = (str(tone_at(patch.chord, t.degree, t.midi)) for t in figure.tones[:8])
    return f"{patch.read.change.text} as {' '.join(names)}"


def _is_outside(move: Move) -> Mask:
    return move.after["outside"] > 0


def _is_awkward(move: Move) -> Mask:
    return move.after["awkward"] > 0


def _leaps_inside(move: Move) -> Mask:
    return move.after["inner"] > move.now["leap"]


def _leaps_between(move: Move) -> Mask:
    return np.abs(move.after["first"] - move.before["last"]) > move.now["join"]


def _same_again(move: Move) -> Mask:
    return (move.after["kind"] == move.before["kind"]) & (move.now["nth"] > 0)


def _join_size(move: Move) -> Weights:
    return -0.12 * np.abs(move.after["first"] - move.before["last"]).astype(float)


RANGE = Rule("range", _is_outside, True, blame=6.0, repair="let a note leave the range")
AWKWARD = Rule("awkward notes", _is_awkward, True, blame=3.0, repair="allow an awkward note")
INNER_LEAP = Rule("widest leap", _leaps_inside, True, blame=2.0, repair="allow a wider leap")
JOIN = Rule("join", _leaps_between, blame=1.5, repair="let the line leap between the chords")
SAME_TWICE = Rule("no figure twice running", _same_again, blame=0.5, repair="repeat the figure")
SMALL_JOIN = Preference("small joins", _join_size)
