"""Chords on one staff: a sheet's line is the lowest voice, the other notes stand on its stems."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from changewright.music.accidentals import Spelled, accidentals
from changewright.music.bar import Quarters
from changewright.music.notated import Mark, NotatedBar, Notation, Stacked
from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from changewright.theory.pitch import Interval, Pitch

__all__ = ["notate_chords"]


def notate_chords(sheet: Sheet, above: Mapping[Quarters, Sequence[Pitch]]) -> Notation:
    """Write a sheet out with further notes over its own, by onset; at concert pitch, upwards.

    Accidentals are worked out over all notes of a bar, those of a chord upwards.
    """
    notation = notate(sheet, folded=False)
    bars = [_stacked(bar, above, notation.up) for bar in notation.bars]
    rows = accidentals(
        notation.key,
        [[Spelled(p, m.tied_from) for m in b.marks for p in _pitches(m)] for b in bars],
    )
    written = []
    for bar, row in zip(bars, rows, strict=True):
        signs = iter(row)
        written.append(
            replace(
                bar,
                marks=tuple(
                    m
                    if m.pitch is None
                    else replace(
                        m,
                        accidental=next(signs),
                        above=tuple(replace(s, accidental=next(signs)) for s in m.above),
                    )
                    for m in bar.marks
                ),
            )
        )
    return replace(notation, bars=tuple(written))


def _stacked(
    bar: NotatedBar, above: Mapping[Quarters, Sequence[Pitch]], up: Interval
) -> NotatedBar:
    marks = []
    for mark in bar.marks:
        pitches = above.get(mark.source.onset, ()) if mark.source is not None else ()
        marks.append(replace(mark, above=tuple(Stacked(p + up) for p in pitches)))
    return replace(bar, marks=tuple(marks))


def _pitches(mark: Mark) -> list[Pitch]:
    own = [] if mark.pitch is None else [mark.pitch]
    return [*own, *(stacked.pitch for stacked in mark.above)]
