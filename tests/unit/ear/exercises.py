"""Exercises and takes for the listening tests: the sheet is written here note by note, the take is
played by the additive voice of the test bed."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction

from benchmarks.takes import RATE, Played, render, synthetic_bank

from changewright.chart.model import Form, form_of
from changewright.ear.audio import Audio
from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.music.line import Line, Note
from changewright.music.promise import Lands, Stays
from changewright.music.sheet import Recipe, Sheet
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name, Pitch

BLUES = (("F7", 16), ("Bb7", 8), ("F7", 8), ("C7", 4), ("Bb7", 4), ("F7", 8))
F_MAJOR = Key(Name.parse("F"), "major")


def blues() -> Form:
    """A twelve-bar blues in its three-chord form."""
    return form_of(BLUES, F_MAJOR, title="Slack Water Blues")


def root_up(player: str = "tenor saxophone", bpm: int = 96, level: int = 1) -> Sheet:
    """Four quarters a bar: root, third, fifth, seventh."""
    horn, form = instrument(player), blues()
    low = horn.concert_range("comfort").low
    notes = []
    for bar in form.bars:
        chord = bar.changes[0].chord
        for beat, degree in enumerate(chord.four):
            pitch = _above(chord.tone(degree).at(2), low)
            notes.append(Note(bar.start + beat, Fraction(1), pitch, degree=degree))
    promises = [
        promise
        for bar in form.bars
        for promise in (
            Lands(bar.start, (bar.changes[0].chord.degrees[0],)),
            Stays(bar.start, bar.end, bar.changes[0].chord.four),
        )
    ]
    return Sheet(
        Recipe("quayside", "root-up", level, "F", horn.id, 1),
        form.title,
        "Play the chord tones from the root.",
        F_MAJOR,
        horn,
        form.bars,
        Line(tuple(notes), form.length),
        tuple(promises),
        bpm,
    )


def _above(pitch: Pitch, low: Pitch) -> Pitch:
    while pitch.midi < low.midi:
        pitch = pitch + Interval(0, 1)
    return pitch


def clock_of(sheet: Sheet) -> Clock:
    """The play-along's clock: one bar of count-in, even eighths."""
    return Clock(sheet.tempo_bpm, 1.0, Fraction(4))


@dataclass(frozen=True)
class Slot:
    """A written note on its way to being played: seconds and MIDI number."""

    at: Fraction
    onset_s: float
    length_s: float
    midi: int


Change = Callable[[Slot], Slot | None]


def slots(sheet: Sheet, latency_s: float = 0.0) -> list[Slot]:
    """The sheet as its clock would have it played."""
    clock = clock_of(sheet)
    return [
        Slot(
            n.onset,
            clock.to_seconds(n.onset) + latency_s,
            0.85 * (clock.to_seconds(n.end) - clock.to_seconds(n.onset)),
            n.pitch.midi,
        )
        for n in sheet.line.notes
    ]


def exact_take(played: Iterable[Slot], confidence: float = 1.0) -> Take:
    """The take that a flawless listener would have heard."""
    notes = tuple(
        HeardNote(s.onset_s, s.onset_s + s.length_s, float(s.midi), 0.0, -20.0, confidence)
        for s in played
    )
    return Take(notes, notes[-1].end_s + 1 if notes else 1.0, source="midi")


def recorded(played: Iterable[Slot], timbre: str = "reed", seed: int = 1) -> Audio:
    """The same as sound."""
    notes = [Played(s.onset_s, s.length_s, s.midi) for s in played]
    voice = synthetic_bank(timbre, seed)
    sound = render(notes, voice, max(n.onset_s + n.length_s for n in notes) + 1)
    return Audio(sound.samples, RATE)
