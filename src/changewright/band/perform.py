"""Play a sheet's line as a soloist would: phrased, a little behind the beat, straighter than the
ride."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from random import Random

import numpy as np

from changewright.band.clocks import Clocks, clocks_of
from changewright.band.song import chorus_shifts
from changewright.music.clock import Clock
from changewright.music.line import Note
from changewright.music.performance import Event, Part
from changewright.music.sheet import Sheet

__all__ = ["perform_line"]

# Half the median lateness of notes on the beat in 456 transcribed solos (Weimar Jazz Database,
# aggregate), so that no two players are farther apart than the 19 ms that listeners accept.
_LATE_BPM = (105, 135, 165, 195, 225, 270)
_LATE_MS = (15.0, 12.5, 12.0, 8.5, 5.5, 2.5)
_BREATH = Fraction(1, 2)  # a rest this long ends a phrase
_SPREAD_MS, _FARTHEST_MS = 4.0, 9.0
_PLAIN, _SOFTEST, _LOUDEST = 78, 46, 112


def perform_line(
    sheet: Sheet,
    *,
    clocks: Clocks | None = None,
    choruses: int = 1,
    seed: int = 0,
) -> Part:
    """Play a sheet's line as the part ``line``: swung by the soloist's clock, upbeats accented,
    louder as the line rises, phrase ends let go.

    Without ``clocks`` the sheet's own tempo and feel give them, with one bar of count-in, as in
    :func:`accompany`. Notes left blank on the page are played: this is the model answer.
    """
    if clocks is None:
        clocks = clocks_of(sheet.feel, sheet.tempo_bpm, sheet.bars[0].meter)
    events: list[Event] = []
    for chorus, shift in enumerate(chorus_shifts(sheet.bars, choruses)):
        rng = Random(f"line/{seed}/{chorus}")
        first = Fraction(0) if chorus == 0 else _pickup(sheet)
        for phrase in _phrases([n for n in sheet.line.notes if n.onset >= first]):
            events += _phrase(phrase, shift + sheet.bars[0].start, clocks.line, rng)
    return Part("line", sheet.instrument.gm_program, tuple(sorted(events)))


def _pickup(sheet: Sheet) -> Fraction:
    first = sheet.bars[0]
    return first.length if first.number == 0 else Fraction(0)


def _phrases(notes: Sequence[Note]) -> Iterator[list[Note]]:
    """Cut a line where it breathes."""
    phrase: list[Note] = []
    for note in notes:
        if phrase and note.onset - phrase[-1].end >= _BREATH:
            yield phrase
            phrase = []
        phrase.append(note)
    if phrase:
        yield phrase


def _phrase(phrase: Sequence[Note], shift: Fraction, clock: Clock, rng: Random) -> Iterator[Event]:
    late_ms = float(np.interp(clock.bpm, _LATE_BPM, _LATE_MS))
    heights = sorted(n.pitch.midi for n in phrase)
    neighbours = [*pairwise(phrase), (phrase[-1], None)]
    for note, after in neighbours:
        on_beat = note.onset.denominator == 1
        sway = min(max(rng.gauss(0, _SPREAD_MS), -_FARTHEST_MS), _FARTHEST_MS)
        lean_s = ((late_ms if on_beat else late_ms / 2) + sway) / 1000
        at_s = clock.to_seconds(note.onset + shift)
        end_s = clock.to_seconds(note.end + shift)
        velocity = _weight(note, after, heights) + rng.gauss(0, 2.0)
        yield Event(
            max(at_s + lean_s, 0.0),
            (end_s - at_s) * _length(note, after),
            note.pitch.midi,
            min(max(round(velocity), _SOFTEST), _LOUDEST),
        )


def _weight(note: Note, after: Note | None, heights: Sequence[int]) -> float:
    """Loudness as velocity: with the contour, accents on upbeats and on the phrase's peak."""
    spread = max(heights[-1] - heights[0], 1)
    height = (note.pitch.midi - heights[0]) / spread - 0.5
    rank = bisect_left(heights, note.pitch.midi)
    upbeat = 8 if note.onset.denominator > 1 and note.duration <= 1 else 0
    peak = 6 if rank == len(heights) - 1 and len(heights) > 2 else 0
    falls = -6 if after is None and note.duration < 1 else 0
    return _PLAIN + 14 * height + upbeat + peak + falls


def _length(note: Note, after: Note | None) -> float:
    """How much of its length a note sounds: joined within a phrase, tongued before a repeated
    note, short where an eighth ends the phrase."""
    if after is None:
        return 0.6 if note.duration <= Fraction(1, 2) else 0.88
    if after.pitch.midi == note.pitch.midi:
        return 0.8
    joined = after.onset == note.end
    return 0.97 if joined and note.duration <= 1 else 0.9
