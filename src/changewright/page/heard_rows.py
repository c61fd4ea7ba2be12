"""A take drawn system by system: as notation above the exercise, and as a picture of its pitch that
lies under the notes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from changewright.music.bar import Bar, Change
from changewright.music.notated import NotatedBar, Notation
from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from changewright.music.written import Hand
from changewright.page._verovio import STAFF_SPACE
from changewright.page.drawing import Shape
from changewright.page.engraving import engrave_alike
from changewright.page.heard import BarNote, HeardPage
from changewright.page.look import look_of
from changewright.page.pitch_picture import Band, Box, PitchPicture, pitch_svg
from changewright.page.svg import picture_svg
from changewright.page.symbol import figure_text, name_text
from changewright.page.system import System
from changewright.page.words import describe_bars
from changewright.theory.pitch import Interval

__all__ = ["HeardRow", "heard_rows"]

_JUST = 0.01  # quarters before a bar line: what ends there stops short of the line
_BEFORE_LINE = 0.5 * STAFF_SPACE
_HEAD_ROOM, _LEAST_SPAN = 2, 12  # semitones around what was played; the least that is shown


@dataclass(frozen=True, slots=True)
class HeardRow:
    """One system's worth: drawings with their words, and the notes on its bars."""

    title: str
    take: str
    take_words: str
    exercise: str
    exercise_words: str
    picture: str
    picture_words: str
    notes: tuple[BarNote, ...]


def heard_rows(page: HeardPage) -> tuple[HeardRow, ...]:
    """Draw the take system by system: notation, exercise, picture, and the notes on its bars."""
    if page.heard is None:
        return ()
    sheets = [page.heard] + ([page.exercise] if page.exercise is not None else [])
    notations = [_unfolded(notate(sheet)) for sheet in sheets]
    drawn = engrave_alike(notations, look_of("plain"))
    notes = {note.number: note for note in page.bars}
    return tuple(
        _row(page, notations, [systems[k] for systems in drawn], notes)
        for k in range(len(drawn[0]))
    )


def _row(
    page: HeardPage,
    notations: Sequence[Notation],
    systems: Sequence[System],
    notes: dict[int, BarNote],
) -> HeardRow:
    numbers = [b.bar.number for b in systems[0].bars]
    where = f"Bar {numbers[0]}" if len(numbers) == 1 else f"Bars {numbers[0]} to {numbers[-1]}"
    picture = _picture(page, notations[-1], systems[-1])
    title = f"{where}: pitch over time, with the chord tones as bands."
    asked = systems[1] if len(systems) > 1 else None
    return HeardRow(
        where,
        picture_svg(systems[0].picture, title=f"The take. {describe_bars(systems[0].bars)}"),
        f"The take, {where.lower()}: {_names(systems[0])}",
        picture_svg(asked.picture, title=describe_bars(asked.bars)) if asked else "",
        f"The exercise, {where.lower()}: {_names(asked)}" if asked else "",
        pitch_svg(picture, title=title),
        title,
        tuple(notes[n] for n in numbers if n in notes),
    )


def _names(system: System) -> str:
    """The notes of a system in words, for who can't see it."""
    bars = (
        f"bar {bar.bar.number} "
        + (
            " ".join(name_text(m.pitch.name) for m in bar.marks if m.pitch and not m.tied_from)
            or "no notes"
        )
        for bar in system.bars
    )
    return "; ".join(bars) + "."


def _unfolded(notation: Notation) -> Notation:
    """Every bar written out: a take never repeats itself exactly, and it stands under the page."""
    bars: list[NotatedBar] = []
    passage: list[NotatedBar] = []
    for bar in notation.bars:
        passage = [bar] if bar.opens_repeat else [*passage, bar]
        bars.append(bar)
        if bar.times > 1:
            bars += passage * (bar.times - 1)
    own = zip(bars, notation.sheet.bars, strict=True)
    plain = (replace(n, bar=b, opens_repeat=False, times=1) for n, b in own)
    return replace(notation, bars=tuple(plain))


# ---- the picture


def _picture(page: HeardPage, notation: Notation, system: System) -> PitchPicture:
    bars = [b.bar for b in system.bars]
    start, end = float(bars[0].start), float(bars[-1].end)
    inside = (tuple(p for p in s if start - 0.1 <= p[0] < end) for s in page.strokes)
    strokes = tuple(s for s in inside if len(s) > 1)
    boxes = tuple(_boxes(page.exercise, start, end))
    low, high = _span(strokes, boxes, notation.sheet)
    return PitchPicture(
        width=system.width,
        anchors=_anchors(system, notation),
        bars=tuple(right for _, right in system.edges),
        bands=tuple(_bands(bars, low, high)),
        boxes=boxes,
        strokes=strokes,
        names=_axis(notation, low, high),
        low=low,
        high=high,
    )


def _boxes(exercise: Sheet | None, start: float, end: float) -> Iterator[Box]:
    for note in exercise.line.notes if exercise is not None else ():
        if start <= note.onset < end and not note.blank:
            yield Box(float(note.onset), min(end, float(note.end)), note.pitch.midi)


def _span(
    strokes: Sequence[Sequence[tuple[float, float]]], boxes: Sequence[Box], heard: Sheet
) -> tuple[int, int]:
    """What was played and asked, and a little room; never less than an octave."""
    pitches = [m for s in strokes for _, m in s] + [float(b.midi) for b in boxes]
    if not pitches:
        middle = heard.instrument.concert_range("comfort").low.midi + 6
        pitches = [float(middle)]
    low, high = round(min(pitches)) - _HEAD_ROOM, round(max(pitches)) + _HEAD_ROOM
    lacking = max(0, _LEAST_SPAN - (high - low))
    return low - lacking // 2, high + (lacking + 1) // 2


def _bands(bars: Sequence[Bar], low: int, high: int) -> Iterator[Band]:
    changes = [c for bar in bars for c in bar.changes]
    before = None
    for change in changes:
        if change.chord.root is not None:
            yield from _tones(change, low, high, change.chord == before)
        before = change.chord


def _tones(change: Change, low: int, high: int, tied: bool) -> Iterator[Band]:
    chord = change.chord
    for degree in chord.four:
        pc = chord.tone(degree).pc
        for midi in range(low, high + 1):
            if midi % 12 == pc:
                yield Band(float(change.onset), float(change.end), midi, figure_text(degree), tied)


def _anchors(system: System, notation: Notation) -> tuple[tuple[float, float], ...]:
    """Where the signs of the system stand, as (quarters, x); a bar line where there is no sign."""
    first = next(i for i, b in enumerate(notation.bars) if b is system.bars[0])
    left_of = {
        owner: min(s.box.left for s in shapes) for owner, shapes in _by_owner(system).items()
    }
    found: list[tuple[float, float]] = []
    for offset, (bar, edge) in enumerate(zip(system.bars, system.edges, strict=True)):
        for place, mark in enumerate(bar.marks):
            x = left_of.get(f"n{first + offset}-{place}", left_of.get(f"r{first + offset}-{place}"))
            if x is not None and mark.duration < bar.bar.length:
                found.append((float(bar.bar.start + mark.onset), x))
        if not found or found[-1][0] < float(bar.bar.start):
            found.append((float(bar.bar.start), edge[0] + _lead(edge, not offset)))
        found.append((float(bar.bar.end) - _JUST, edge[1] - _BEFORE_LINE))
    found.append((float(system.bars[-1].bar.end), system.edges[-1][1]))
    return tuple(_rising(found))


def _by_owner(system: System) -> dict[str, list[Shape]]:
    kinds = ("notehead", "rest", "mRest")
    placed = sorted(
        (s for s in system.shapes if s.kind in kinds and s.owner), key=lambda s: s.owner
    )
    return {owner: list(group) for owner, group in groupby(placed, key=lambda s: s.owner)}


def _lead(edge: tuple[float, float], is_first: bool) -> float:
    """Room for the clef and the signature in the first bar, a little in others."""
    return (0.3 if is_first else 0.06) * (edge[1] - edge[0])


def _rising(anchors: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    last = (-1.0, -1.0)
    for at, x in sorted(anchors):
        if at > last[0] and x > last[1]:
            yield at, x
            last = (at, x)


def _axis(notation: Notation, low: int, high: int) -> tuple[tuple[int, str], ...]:
    """The names that the player reads, at the tonic and fifth of the written key."""
    hand = Hand(notation.up, notation.key)
    names = []
    for interval in (Interval(0, 0), Interval(1, 0)):
        tonic = notation.sheet.key.tonic + interval
        for octave in range(10):
            pitch = tonic.at(octave)
            if low <= pitch.midi <= high:
                names.append((pitch.midi, name_text(hand.bar([(pitch, None)])[0].name)))
    return tuple(names)
