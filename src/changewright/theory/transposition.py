"""From concert to written pitch: keys that players read, one shift for a whole exercise, octaves.

A part is never respelled note by note: the key is chosen first, and the whole exercise moves by
the one interval that leads there, an interval on the line of fifths.
"""

from collections.abc import Sequence

from changewright.theory.instrument import Instrument, Span, Stage
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Pitch

__all__ = ["octave_for", "transpose_key_for", "written_shift"]

_SHIFTS = range(-5, 6)  # octaves tried; more than any two instruments lie apart


def transpose_key_for(instrument: Instrument, key: Key) -> Key:
    """The key that the player reads for a concert key: never more than six accidentals.

    Source: domain reference 2.6; e.g. concert E is read in D flat, not C sharp, on E-flat
    instruments.

    >>> from changewright.theory.instrument import instrument
    >>> str(transpose_key_for(instrument("alto saxophone"), Key.parse("E")))
    'Db'
    """
    return key.transpose(instrument.written_up)


def written_shift(instrument: Instrument, key: Key) -> Interval:
    """The interval by which a whole exercise in ``key`` moves from concert to written pitch.

    It sounds like the instrument's own transposition and ends in the key of
    :func:`transpose_key_for`, so it may be a diminished or augmented interval.

    >>> from changewright.theory.instrument import instrument
    >>> shift = written_shift(instrument("trumpet"), Key.parse("B"))
    >>> str(Pitch.parse("D#4") + shift), shift.semitones
    ('F4', 2)
    """
    up = instrument.written_up
    fifths = transpose_key_for(instrument, key).tonic.fifths - key.tonic.fifths
    return Interval(fifths, (up.semitones - 7 * fifths) // 12)


def octave_for(pitches: Sequence[Pitch], instrument: Instrument, stage: Stage) -> int:
    """Octaves by which a concert line moves as a whole so that it lies well for a player.

    First as few notes as possible lie outside the range of the stage, then the line's middle
    lies inside the comfort range or near it, then the line moves as little as can be. Source:
    domain reference section 6, 'Octave choice'.

    >>> from changewright.theory.instrument import instrument
    >>> line = [Pitch.parse(p) for p in ("F4", "A4", "C5", "D5")]
    >>> octave_for(line, instrument("trombone"), "beginner")
    -1
    """
    if not pitches:
        return 0
    wide, comfort = instrument.concert_range(stage), instrument.concert_range("comfort")
    sounding = [p.midi for p in pitches]
    middle = (min(sounding) + max(sounding)) / 2

    def cost(octaves: int) -> tuple[int, float, int, int]:
        moved = [m + 12 * octaves for m in sounding]
        outside = sum(_outside(m, wide) > 0 for m in moved)
        return outside, _outside(middle + 12 * octaves, comfort), abs(octaves), octaves

    return min(_SHIFTS, key=cost)


def _outside(midi: float, span: Span) -> float:
    """Semitones by which a pitch lies outside a range, 0 inside."""
    return max(span.low.midi - midi, midi - span.high.midi, 0)
