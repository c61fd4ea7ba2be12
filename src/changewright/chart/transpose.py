"""Move a chart to another key, spelled as a reader of that key expects it.

Keys move whole: a chart and each key area in it is transposed by one interval and, where its
signature would pass six accidentals, respelled as a whole. Only a root that would need a double
accidental is respelled by itself, with its whole chord. Source: domain reference 2.1 and 2.6.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace

from changewright.chart.chart import Chart
from changewright.chart.written import ScalePin, Sung, WrittenBar, WrittenChord, chord_of
from changewright.errors import ChartError, ChordError
from changewright.theory.key import Key, shortest_spelling
from changewright.theory.pitch import Interval, Name, Pitch
from changewright.theory.symbols import write_symbol

__all__ = ["transpose_chart"]

_RESPELLED = Interval(-12, 7)  # the same sound, twelve places down the line of fifths
_ROOTS = re.compile(r"(?:(?<=^)|(?<=^\()|(?<=[|/]))[A-G](?:bb|##|[b♭#♯x𝄫𝄪])?")


def transpose_chart(chart: Chart, key: Key) -> Chart:
    """Move a chart so that it begins in ``key``'s tonic, by the shorter way up or down.

    The mode stays: a minor tune asked for in Bb is played in B flat minor. Raises
    :class:`ChartError` where the chart names no key to start from.
    """
    if chart.key is None:
        raise ChartError(
            f"{chart.title!r} names no key, so it can't be moved to {key}",
            remedy="Write its key in the heading, such as 'key: F'.",
        )
    home = shortest_spelling(Key(key.tonic, chart.key.mode))
    move = _shortest(chart.key.tonic, home.tonic)
    return replace(chart, bars=tuple(_joined(_bar(bar, move) for bar in chart.bars)))


def _shortest(start: Name, goal: Name) -> Interval:
    fifths = goal.fifths - start.fifths
    up = 7 * fifths % 12
    semitones = up if up <= 6 else up - 12
    return Interval(fifths, (semitones - 7 * fifths) // 12)


def _joined(bars: Iterable[WrittenBar]) -> Iterator[WrittenBar]:
    """A note held into another key area keeps the spelling that it began with."""
    last = None
    for bar in bars:
        first = bar.melody[:1]
        if last is not None and first and first[0].held:
            bar = replace(bar, melody=(replace(first[0], pitch=last), *bar.melody[1:]))
        last = bar.melody[-1].pitch if bar.melody else None
        yield bar


def _bar(bar: WrittenBar, move: Interval) -> WrittenBar:
    key = None if bar.key is None else bar.key.transpose(move)
    area = _area(bar.key, key, move)
    return replace(
        bar,
        key=key,
        chords=tuple(_chord(chord, area) for chord in bar.chords),
        pin=None if bar.pin is None else bar.pin.transpose(area),
        melody=tuple(_sung(piece, area) for piece in bar.melody),
    )


def _area(old: Key | None, new: Key | None, move: Interval) -> Interval:
    """The move of everything written in a key area: as its key moved, respelling included."""
    if old is None or new is None:
        return move
    turns = (old.tonic.fifths + move.fifths - new.tonic.fifths) // 12
    return Interval(move.fifths - 12 * turns, move.octaves + 7 * turns)


def _sung(piece: Sung, move: Interval) -> Sung:
    if piece.pitch is None:
        return piece
    return replace(piece, pitch=_easy_pitch(piece.pitch + move))


def _easy_pitch(pitch: Pitch) -> Pitch:
    """A pitch without a double accidental."""
    while pitch.name.alter > 1:
        pitch += _RESPELLED
    while pitch.name.alter < -1:
        pitch -= _RESPELLED
    return pitch


def _easy(name: Name) -> Name:
    return _easy_pitch(name.at(4)).name


def _chord(chord: WrittenChord, move: Interval) -> WrittenChord:
    return WrittenChord(_symbol(chord.text, move), chord.length, _pin(chord.scale, move))


def _pin(pin: ScalePin | None, move: Interval) -> ScalePin | None:
    if pin is None or pin.root is None:
        return pin
    return replace(pin, root=_easy(pin.root + move))


def _symbol(text: str, move: Interval) -> str:
    """The symbol in its author's own manner, on another root.

    A chord is respelled whole: a slash chord's root decides for its bass.
    """
    chord = chord_of(text)
    if chord.root is None:
        return text
    root = chord.root + move
    own = Interval(move.fifths + _easy(root).fifths - root.fifths, 0)
    moved = _ROOTS.sub(lambda m: str(_easy(Name.parse(m[0]) + own)), text)
    try:
        if chord_of(moved).pcs == chord.transpose(own).pcs:
            return moved
    except (ChordError, ValueError):
        pass
    return write_symbol(chord.transpose(own))
