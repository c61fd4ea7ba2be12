"""Small sheets for the tests of music and page, built from symbols and seeded rhythms."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

from changewright.chart.model import form_of
from changewright.music.bar import FOUR_FOUR, Bar, Change, Meter
from changewright.music.line import Line, Note, Role
from changewright.music.promise import Lands, Promise
from changewright.music.sheet import Recipe, Sheet
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Pitch

F = Fraction

_CHANGES = ("F7", "F7", "F7", "F7", "Bb7", "Bb7", "F7", "F7", "C7", "Bb7", "F7", "F7")
BLUES = tuple((symbol, 4) for symbol in _CHANGES)
LETTERS = {1: "A", 5: "B", 9: "C"}
E8, Q, H = F(1, 2), F(1), F(2)
NO_PICKUP = F(0)
Rhythm = Sequence[F]
"""Durations in quarters; a negative one is silence."""

CELLS: tuple[Rhythm, ...] = (
    (Q, Q),
    (E8, E8, E8, E8),
    (F(3, 2), E8),
    (E8, Q, E8),
    (H,),
    (-Q, Q),
    (F(1, 3),) * 6,
    (F(2, 3), F(1, 3), Q),
    (F(2, 3),) * 3,
    (F(1, 4), F(1, 4), E8, F(3, 4), F(1, 4)),
    (-E8, F(3, 2)),
    (-H,),
)
"""Half bars of four, from which random rhythms are put together."""


def sheet_of(
    symbols: Iterable[tuple[str, int]] = BLUES,
    *,
    instrument_id: str = "tenor saxophone",
    key: str = "F",
    meter: Meter = FOUR_FOUR,
    rhythm: Rhythm | Mapping[int, Rhythm] = (Q, Q, Q, Q),
    labels: Mapping[int, str] | None = None,
    blank: Iterable[int] = (),
    pickup: F = NO_PICKUP,
    stage: str = "comfort",
    title: str = "Root-up chord tones",
    feel: str = "swing",
    seed: int = 7,
) -> Sheet:
    """A sheet over symbols with their lengths in beats; bars named in ``blank`` are left open.

    Notes go up the chord in order; with ``seed`` 0 they do, else random tones in range.
    """
    player = instrument(instrument_id)
    form = form_of(symbols, Key.parse(key), meter)
    marks = labels or {}
    bars = _with_pickup([replace(b, label=marks.get(b.number, "")) for b in form.bars], pickup)
    rng = Random(seed)
    notes: list[Note] = []
    span = player.concert_range(stage)  # type: ignore[arg-type]
    for bar in bars:
        durations = rhythm[bar.number] if isinstance(rhythm, Mapping) else rhythm
        notes += _notes(bar, durations, bar.number in set(blank), rng, span.low, span.high, seed)
    promises: tuple[Promise, ...] = tuple(
        Lands(n.onset, (n.degree,))
        for n in notes
        if n.degree and n.onset in {b.start for b in bars}
    )
    return Sheet(
        Recipe("quay01", "root-up", 1, key, player.id, seed),
        title,
        "Say each chord tone before you play it. Keep the time even.",
        Key.parse(key),
        player,
        tuple(bars),
        Line(tuple(notes), bars[-1].end),
        promises,
        92,
        feel,
    )


def _with_pickup(bars: list[Bar], length: F) -> list[Bar]:
    if not length:
        return bars
    chord = bars[0].changes[0]
    first = Bar(0, F(0), length, bars[0].meter, (Change(F(0), length, chord.chord, chord.text),))
    moved = [
        replace(
            b,
            start=b.start + length,
            changes=tuple(replace(c, onset=c.onset + length) for c in b.changes),
        )
        for b in bars
    ]
    return [first, *moved]


def _notes(
    bar: Bar, durations: Rhythm, is_blank: bool, rng: Random, low: Pitch, high: Pitch, seed: int
) -> list[Note]:
    notes: list[Note] = []
    at = bar.start
    for index, duration in enumerate(durations):
        size = min(abs(duration), bar.end - at)
        if size <= 0:
            break
        chord = next(c.chord for c in bar.changes if c.onset <= at < c.end)
        if duration > 0 and chord.root is not None:
            degree = (
                rng.choice(chord.degrees) if seed else chord.degrees[index % len(chord.degrees)]
            )
            pitch = _in_range(chord.tone(degree).at(0), low, high, rng if seed else None)
            notes.append(Note(at, size, pitch, Role.CHORD_TONE, degree, is_blank))
        at += size
    return notes


def _in_range(pitch: Pitch, low: Pitch, high: Pitch, rng: Random | None) -> Pitch:
    octaves = [Pitch(pitch.fifths, pitch.octaves + n) for n in range(10)]
    fitting = [p for p in octaves if low.midi <= p.midi <= high.midi] or [
        min(octaves, key=lambda p: abs(p.midi - low.midi))
    ]
    return rng.choice(fitting) if rng else fitting[0]


def random_rhythms(seed: int, bars: int = 12) -> dict[int, Rhythm]:
    """A rhythm for each bar of four, put together from the cells."""
    rng = Random(seed)
    return {n: (*rng.choice(CELLS), *rng.choice(CELLS)) for n in range(bars + 1)}
