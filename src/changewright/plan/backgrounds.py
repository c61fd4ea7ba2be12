"""Two guide-tone strands that never double: what the class plays while one of it solos.

At every chord one strand has the third, the other the seventh; which has which is chosen so that
both move as little as they can over the whole chorus. Each player then gets his strand in his own
range, by the nearest octave.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from changewright.music.bar import Bar, Quarters
from changewright.music.line import Line, Note, Role
from changewright.music.promise import Holds, Lands, Promise, Within
from changewright.music.sheet import Recipe, Sheet
from changewright.reading.model import Reading
from changewright.theory.chord import Chord
from changewright.theory.instrument import Instrument, Span
from changewright.theory.pitch import Degree, Pitch

__all__ = ["STRANDS", "background", "background_degrees"]

STRANDS = ("third", "seventh")
"""A strand by the degree that it has at the first chord."""


@dataclass(frozen=True, slots=True)
class _Held:
    """One chord within one bar."""

    start: Quarters
    end: Quarters
    chord: Chord


def background(
    reading: Reading,
    instrument: Instrument,
    strand: str,
    *,
    recipe: Recipe,
    tempo_bpm: int,
    feel: str = "swing",
) -> Sheet:
    """One strand as a sheet for an instrument, in its beginner's range."""
    span = instrument.concert_range("beginner")
    held = tuple(_held(reading.bars))
    degrees = background_degrees([one.chord for one in held])[STRANDS.index(strand)]
    notes = tuple(
        Note(one.start, one.end - one.start, pitch, Role.GUIDE_TONE, degree)
        for one, degree, pitch in zip(held, degrees, _pitches(held, degrees, span), strict=True)
    )
    start, end = reading.bars[0].start, reading.bars[-1].end
    promises: list[Promise] = [Within(start, end, span.low, span.high)]
    for note in notes:
        promises += [Lands(note.onset, (_degree(note),)), Holds(note.onset, note.duration / 2)]
    return Sheet(
        recipe=recipe,
        title=f"Background from the {strand}",
        instruction="Soft and long, under the soloist; breathe where the chord lasts.",
        key=reading.key,
        instrument=instrument,
        bars=reading.bars,
        line=Line(notes, end - start),
        promises=tuple(promises),
        tempo_bpm=tempo_bpm,
        feel=feel,
    )


def background_degrees(chords: Sequence[Chord]) -> tuple[tuple[Degree, ...], ...]:
    """The degrees of the two strands, chord by chord; they differ at every chord."""
    pairs = [_pair(chord) for chord in chords]
    costs: list[float] = [0.0, 1e9]  # the strands start as they are named
    back: list[list[int]] = []
    for n in range(1, len(chords)):
        last, now = pairs[n - 1], pairs[n]
        straight = _motion(chords[n - 1], last, chords[n], now)
        crossed = _motion(chords[n - 1], last, chords[n], _turned(now, 1))
        moves = [
            [costs[0] + straight, costs[1] + crossed],
            [costs[0] + crossed, costs[1] + straight],
        ]
        back.append([row.index(min(row)) for row in moves])
        costs = [min(row) for row in moves]
    turn = costs.index(min(costs))
    turns = [turn]
    for step in reversed(back):
        turn = step[turn]
        turns.insert(0, turn)
    chosen = [_turned(pair, t) for pair, t in zip(pairs, turns, strict=True)]
    return tuple(a for a, _ in chosen), tuple(b for _, b in chosen)


def _held(bars: Sequence[Bar]) -> Iterator[_Held]:
    """The chords of each bar, equal neighbours as one; silence is left out."""
    for bar in bars:
        merged: list[_Held] = []
        for change in bar.changes:
            if merged and merged[-1].chord == change.chord and merged[-1].end == change.onset:
                merged[-1] = _Held(merged[-1].start, change.end, change.chord)
            else:
                merged.append(_Held(change.onset, change.end, change.chord))
        yield from (one for one in merged if not one.chord.is_silent)


def _pair(chord: Chord) -> tuple[Degree, Degree]:
    """Third and seventh, or what else the chord has where one of them is missing."""
    tones = [*chord.guide_tones, *(d for d in chord.four if d not in chord.guide_tones)]
    return tones[0], tones[1 if len(tones) > 1 else 0]


def _turned(pair: tuple[Degree, Degree], turn: int) -> tuple[Degree, Degree]:
    return pair if turn == 0 else (pair[1], pair[0])


def _motion(
    before: Chord, last: tuple[Degree, Degree], chord: Chord, now: tuple[Degree, Degree]
) -> float:
    """How far both strands move, in semitones squared: two small steps beat a leap."""
    total = 0.0
    for a, b in zip(last, now, strict=True):
        away = (chord.tone(b).pc - before.tone(a).pc) % 12
        total += min(away, 12 - away) ** 2
    return total


def _pitches(held: Sequence[_Held], degrees: Sequence[Degree], span: Span) -> Iterator[Pitch]:
    """Each tone in the octave nearest to the one before, the first nearest to the middle."""
    middle = (span.low.midi + span.high.midi) / 2
    at = middle
    for one, degree in zip(held, degrees, strict=True):
        name = one.chord.tone(degree)
        choices = [name.at(octave) for octave in range(-1, 10)]
        inside = [p for p in choices if p in span] or choices
        chosen = min(inside, key=lambda p: (abs(p.midi - at) + 0.1 * abs(p.midi - middle), p.midi))
        at = chosen.midi
        yield chosen


def _degree(note: Note) -> Degree:
    if note.degree is None:  # pragma: no cover - every note of ours has one
        raise AssertionError("a guide tone has a degree")
    return note.degree
