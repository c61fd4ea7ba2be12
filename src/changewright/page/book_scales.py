"""The scales of a chapter as notes to read: one bar a chord, its first scale going up."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from changewright.music.bar import Bar, Change, Meter
from changewright.music.line import Line, Note, Role
from changewright.music.notated import Notation
from changewright.music.sheet import Recipe, Sheet
from changewright.page.book_exercise import rows_of
from changewright.page.book_style import BookStyle, line_count
from changewright.page.language import Language, language
from changewright.page.look import printable
from changewright.page.symbol import name_text
from changewright.page.system import System
from changewright.reading.model import Reading
from changewright.theory.chord import Chord
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Interval, Name, Pitch
from changewright.theory.scale import Scale

__all__ = ["scale_choices", "scale_rows", "scale_sheet"]

Content = dict[str, Any]

_EIGHTH = Fraction(1, 2)
_LINE_MM = 4.6
_TIMED = ("meterSig", "rest")


def scale_choices(readings: Sequence[Reading]) -> list[tuple[Chord, Scale]]:
    """Each chord with its first scale, once, in the order in which the changes bring them."""
    found = {
        (change.change.chord, change.scales[0].scale): None
        for reading in readings
        for change in reading.changes
        if change.scales and change.change.chord.root is not None
    }
    return list(found)


def scale_sheet(choices: Sequence[tuple[Chord, Scale]], key: Key, player: Instrument) -> Sheet:
    """The scales as an exercise in eighths, a bar each, beginning low in the player's range."""
    bars: list[Bar] = []
    notes: list[Note] = []
    at = Fraction(0)
    low = player.concert_range("intermediate").low
    rising = [list(_rising(scale, low)) for _, scale in choices]
    sizes = [max(4, -(-len(tones) // 2)) for tones in rising]
    # One meter for all: a change of meter would be announced at the end of a system.
    meter = Meter(max(sizes), 4)
    told = zip(choices, rising, sizes, strict=True)
    for number, ((chord, _), tones, beats) in enumerate(told, start=1):
        change = Change(at, Fraction(beats), chord, str(chord.root))
        bars.append(Bar(number, at, Fraction(beats), meter, (change,)))
        notes += [
            Note(at + i * _EIGHTH, _EIGHTH, pitch, Role.SCALE_TONE, degree)
            for i, (pitch, degree) in enumerate(tones)
        ]
        at += beats
    return Sheet(
        Recipe("scales", "chord-scales", 1, str(key), player.id, 1),
        "Scales", "", key, player, tuple(bars), Line(tuple(notes), at), (), 80,
    )  # fmt: skip


def scale_rows(
    choices: Sequence[tuple[Chord, Scale]],
    notation: Notation,
    systems: Sequence[System],
    style: BookStyle,
) -> list[Content]:
    """Rows of scales, each with the names of its scales under it; they are in no meter."""
    words = language(style.language)
    rows = rows_of([_without_time(system) for system in systems], style)
    for row in rows:
        inside = range(row["first"] - 1, row["last"])
        written = [notation.bars[n].chords[0].chord for n in inside]
        names = [
            _caption(*choices[n], chord, words) for n, chord in zip(inside, written, strict=True)
        ]
        row["caption"] = printable(" · ".join(names))
        row["caption_mm"] = style.scale * (_LINE_MM * line_count(row["caption"], 10) + 1)
        row["music_mm"] = row["height_mm"]
        row["height_mm"] = round(row["height_mm"] + row["caption_mm"], 2)
    return rows


def _without_time(system: System) -> System:
    """A scale of nine notes needs a bar of five, but nobody counts it."""
    return replace(system, shapes=tuple(s for s in system.shapes if s.kind not in _TIMED))


def _caption(chord: Chord, scale: Scale, written: Chord, words: Language) -> str:
    """A scale's name as it is read where ``chord`` is ``written``: ``G mixolydian``."""
    if chord.root is None or written.root is None:
        return words.scale(scale.kind)
    root = Name(written.root.fifths + scale.root.fifths - chord.root.fifths)
    return f"{name_text(root)} {_signs(words.scale(scale.kind))}"


def _signs(words: str) -> str:
    """True accidentals before figures: ``♭9``."""
    return re.sub(r"#(?=\d)", "♯", re.sub(r"\bb(?=\d)", "♭", words))


def _rising(scale: Scale, low: Pitch) -> Iterator[tuple[Pitch, Degree]]:
    """The tones from the root up to its octave, the root no lower than ``low``."""
    root = scale.root.at(low.octave)
    if root.midi < low.midi:
        root = scale.root.at(low.octave + 1)
    for degree in scale.kind.degrees:
        yield root + degree.interval, degree
    yield root + Interval(0, 1), scale.kind.degrees[0]
