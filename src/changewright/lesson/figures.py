"""Exercises that move bar by bar: a choice is a whole figure over one chord."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NoReturn
from zlib import crc32

import numpy as np

from changewright.errors import Refusal
from changewright.lesson.ground import Ground, Patch, tone_at
from changewright.line.grammar import Mask, Move, Preference, Rule, Weights
from changewright.line.slot import Slot
from changewright.music.bar import Quarters
from changewright.music.line import Note, Role
from changewright.theory.pitch import Degree, Pitch
from changewright.theory.spelling import approach

__all__ = [
    "AWKWARD",
    "INNER_LEAP",
    "JOIN",
    "RANGE",
    "SAME_TWICE",
    "SMALL_JOIN",
    "Figure",
    "Timing",
    "Tone",
    "figure_slots",
    "rising",
    "scored",
    "timed",
    "write_figures",
]


@dataclass(frozen=True, slots=True)
class Tone:
    """One note of a figure; ``offset`` counts from the figure's start.

    ``beside`` is the MIDI number of the note that this one is a neighbour of.
    """

    offset: Quarters
    duration: Quarters
    midi: int
    degree: Degree
    role: Role = Role.CHORD_TONE
    beside: int | None = None


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


Timing = tuple[tuple[Quarters, Quarters], ...]
"""Onset and duration of each note of a figure."""


def timed(*durations: Quarters) -> Timing:
    """Notes one after another; a duration below 0 is a rest."""
    found: list[tuple[Quarters, Quarters]] = []
    at = Fraction(0)
    for duration in durations:
        if duration > 0:
            found.append((at, duration))
        at += abs(duration)
    return tuple(found)


def scored(
    kind: str,
    pitches: Sequence[tuple[Degree, int]],
    timing: Timing,
    role: Role = Role.CHORD_TONE,
    **marks: int,
) -> Figure:
    """Put pitches on a timing, one each."""
    tones = (
        Tone(at, duration, midi, degree, role)
        for (at, duration), (degree, midi) in zip(timing, pitches, strict=True)
    )
    return Figure(kind, tuple(tones), tuple(marks.items()))


def figure_slots(
    ground: Ground,
    patches: Sequence[Patch],
    make: Callable[[Patch], Sequence[Figure]],
    facts: Callable[[Patch], Mapping[str, int]],
) -> tuple[tuple[Slot, ...], list[Sequence[Figure]]]:
    """The slots of patches and the figures that may stand in each.

    Columns: first, last, outside (semitones out of range), awkward (how many notes), inner
    (widest leap inside), kind, rises (-1, 0, 1), and the figures' own marks. Bars with the same
    chord, length and facts have the same figures, which are made once.
    """
    known: dict[object, Sequence[Figure]] = {}
    told: list[dict[str, int]] = []
    keys: list[object] = []
    for patch in patches:
        told.append({"leap": ground.level.widest_leap, "nth": min(patch.nth, 1), **facts(patch)})
        keys.append((patch.code, patch.length, patch.more, *told[-1].items()))
        if keys[-1] not in known:
            known[keys[-1]] = make(patch) or _refuse(ground, patch)
    marks = dict.fromkeys(n for figures in known.values() for f in figures for n, _ in f.marks)
    columns = {key: _columns(ground, figures, marks) for key, figures in known.items()}
    rows = zip(patches, keys, told, strict=True)
    slots = tuple(_slot(patch, known[key], columns[key], now) for patch, key, now in rows)
    return slots, [known[key] for key in keys]


def _refuse(ground: Ground, patch: Patch) -> NoReturn:
    """Nothing can be played on this chord even a fifth outside the range: no rule could mend it."""
    raise Refusal(
        patch.bar.number,
        patch.beat,
        ["range"],
        ["a wider range"],
        f"{ground.span} has no room for {patch.read.change.text}",
    )


Columns = tuple[tuple[str, tuple[int, ...]], ...]


def _columns(ground: Ground, figures: Sequence[Figure], marks: Iterable[str]) -> Columns:
    columns: dict[str, Iterable[int]] = {
        "first": [f.tones[0].midi for f in figures],
        "last": [f.tones[-1].midi for f in figures],
        "outside": [_outside(ground, f) for f in figures],
        "awkward": [sum(p in ground.awkward_midi for p in f.pitches) for f in figures],
        "inner": [max((abs(b - a) for a, b in pairwise(f.pitches)), default=0) for f in figures],
        "kind": [_code(f.kind) for f in figures],
        "rises": [_sign(f.tones[-1].midi - f.tones[0].midi) for f in figures],
    }
    for name in marks:
        columns[name] = [dict(f.marks).get(name, 0) for f in figures]
    return tuple((name, tuple(numbers)) for name, numbers in columns.items())


def _sign(number: int) -> int:
    return (number > 0) - (number < 0)


def _slot(
    patch: Patch, figures: Sequence[Figure], columns: Columns, told: Mapping[str, int]
) -> Slot:
    return Slot(
        patch.start,
        patch.bar.number,
        patch.beat,
        columns,
        facts=tuple(told.items()),
        labels=lambda choice: _label(patch, figures[choice]),
    )


def write_figures(
    patches: Sequence[Patch], choices: Sequence[Sequence[Figure]]
) -> Callable[[Sequence[int]], tuple[Note, ...]]:
    """The writer of a plan: from one choice a patch to notes."""

    def write(line: Sequence[int]) -> tuple[Note, ...]:
        return tuple(
            Note(patch.start + t.offset, t.duration, _spelled(patch, f, t), t.role, t.degree)
            for patch, figures, choice in zip(patches, choices, line, strict=True)
            for f in (figures[choice],)
            for t in f.tones
        )

    return write


def _spelled(patch: Patch, figure: Figure, tone: Tone) -> Pitch:
    if tone.beside is None:
        return tone_at(patch.chord, tone.degree, tone.midi)
    main = next(t for t in figure.tones if t.midi == tone.beside)
    return approach(tone_at(patch.chord, main.degree, main.midi), tone.midi - main.midi)


def _outside(ground: Ground, figure: Figure) -> int:
    low, high = ground.span.low.midi, ground.span.high.midi
    return max(0, low - min(figure.pitches), max(figure.pitches) - high)


def _code(kind: str) -> int:
    return crc32(kind.encode())


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
