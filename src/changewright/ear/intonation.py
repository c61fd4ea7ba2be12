"""Intonation against the take's own tuning: by note, by register, over time. J17.

Only long notes count, and only medians over five or more are told. Blue notes (the lowered third,
fifth and seventh of the key over a dominant chord) bend on purpose and are left out. Source of the
rules and of the bands of 15 and 30 cents: domain reference 8.5; common practice, no source.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from changewright.ear._words import name_as_read
from changewright.ear.measure import Measure
from changewright.theory.chord import Chord
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key

__all__ = ["LongNote", "intonation", "intonation_of", "is_intonation"]

LEAST, LONG_S = 5, 0.2
IN_TUNE, LEANS = 15.0, 30.0
MOST_SAID = 3
SPOKEN_FROM = 3
"""The level from which pitch is spoken of: before, the notes themselves are work enough. Source:
common practice, no source."""

FIXED_PITCH = ("piano", "vibraphone")
_FIGURES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
_BLUE = (3, 6, 10)  # semitones over the keynote
_REGISTERS = ("low", "middle", "high")


@dataclass(frozen=True, slots=True)
class LongNote:
    """A note as intonation needs it: where in time (in any unit), how many seconds long, concert
    MIDI number, cents from the take's own tuning, and the chord it sounds over (None where its
    place isn't known)."""

    at: float
    length_s: float
    midi: int
    cents: float
    chord: Chord | None = None


def intonation(
    notes: Iterable[LongNote], key: Key, instrument: Instrument | None, tuning: float
) -> list[Measure]:
    """What the long notes tell, cents: ``J17.F#`` for each note name as its player reads it, with
    its degree of the key; ``J17r.high`` by register; ``J17s`` the spread, ``J17d`` the drift from
    the first third of them to the last, ``J17t`` where the take's A lies beside 440 Hz.

    ``tuning`` is that A in semitones. Nothing for an instrument whose pitch the player can't move.
    """
    if instrument is not None and instrument.id in FIXED_PITCH:
        return []
    long = [n for n in notes if n.length_s >= LONG_S and not _is_blue(n, key)]
    return [
        *_by_name(long, key, instrument),
        *_by_register(long, instrument),
        *_over_time(long, tuning),
    ]


def _is_blue(note: LongNote, key: Key) -> bool:
    over = note.chord
    return over is not None and over.is_dominant and (note.midi - key.tonic.pc) % 12 in _BLUE


def _by_name(notes: Sequence[LongNote], key: Key, instrument: Instrument | None) -> list[Measure]:
    by_class: dict[int, list[float]] = defaultdict(list)
    for note in notes:
        by_class[note.midi % 12].append(note.cents)
    home = key.tonic + instrument.written_up if instrument else key.tonic
    found = []
    for pc, cents in sorted(by_class.items()):
        name = name_as_read(pc, key, instrument)
        degree = f"degree {_FIGURES[(pc - key.tonic.pc) % 12]} of {home}"
        found.append(_median(f"J17.{name}", f"Pitch of {name}", cents, degree))
    return [m for m in found if m.count >= LEAST]


def _by_register(notes: Sequence[LongNote], instrument: Instrument | None) -> list[Measure]:
    """Thirds of the instrument's whole range."""
    if instrument is None:
        return []
    span = instrument.concert_range("professional")
    width = (span.high.midi - span.low.midi + 1) / len(_REGISTERS)
    by_register: dict[str, list[float]] = defaultdict(list)
    for note in notes:
        third = int(np.clip((note.midi - span.low.midi) // width, 0, 2))
        by_register[_REGISTERS[third]].append(note.cents)
    found = [
        _median(f"J17r.{name}", f"Pitch in the {name} register", by_register[name])
        for name in _REGISTERS
        if name in by_register
    ]
    kept = [m for m in found if m.count >= LEAST]
    return kept if len(kept) > 1 else []


def _over_time(notes: Sequence[LongNote], tuning: float) -> list[Measure]:
    if len(notes) < LEAST:
        return []
    ordered = [n.cents for n in sorted(notes, key=lambda n: n.at)]
    third = len(ordered) // 3
    found = [
        Measure("J17s", "Spread of pitch", float(np.std(ordered)), "cents", len(ordered)),
        Measure("J17t", "Your A beside 440 Hz", 100 * tuning, "cents", len(ordered)),
    ]
    if third >= LEAST:
        drift = float(np.median(ordered[-third:]) - np.median(ordered[:third]))
        found.insert(1, Measure("J17d", "Drift of pitch", drift, "cents", 2 * third))
    return found


def _median(name: str, words: str, cents: Sequence[float], detail: str = "") -> Measure:
    return Measure(name, words, float(np.median(cents)), "cents", len(cents), detail=detail)


def is_intonation(measure: Measure) -> bool:
    """Whether a measure tells of pitch."""
    return measure.id.startswith("J17")


def intonation_of(
    measures: Sequence[Measure], *, level: int | None = None, with_band: bool = False
) -> str:
    """Pitch in words, at most three sentences; ``""`` where too few long notes were heard, or the
    level does not speak of it yet. ``with_band`` says that a band at 440 Hz played along."""
    told = [m for m in measures if is_intonation(m)]
    if not told or (level is not None and level < SPOKEN_FROM):
        return ""
    out = [m for m in told if abs(m.value) > IN_TUNE]
    said = [
        *(_beside_the_band(m) for m in out if m.id == "J17t" and with_band),
        *(_off_pitch(m) for m in _worst(out, "J17.")),
        *(_off_register(m) for m in _worst(out, "J17r.")),
        *(_drifts(m) for m in out if m.id == "J17d"),
    ]
    if said:
        return " ".join(said[:MOST_SAID])
    if not any(m.id.startswith("J17.") for m in told):
        return ""
    return "Every note that was long enough to measure lies within 15 cents of the others."


def _worst(measures: Sequence[Measure], kind: str) -> list[Measure]:
    of_kind = [m for m in measures if m.id.startswith(kind)]
    return sorted(of_kind, key=lambda m: -abs(m.value))


def _way(cents: float) -> str:
    return "sharp" if cents > 0 else "flat"


def _beside_the_band(measure: Measure) -> str:
    side = "above" if measure.value > 0 else "below"
    return (
        f"As a whole the take lies about {abs(measure.value):.0f} cents {side} the band: tune to "
        "it before the next one."
    )


def _off_pitch(measure: Measure) -> str:
    name, way = measure.name.removeprefix("Pitch of "), _way(measure.value)
    size = f"about {abs(measure.value):.0f} cents {way} of the others"
    where = f" ({measure.detail})" if measure.detail else ""
    if abs(measure.value) <= LEANS:
        return f"{name}{where} leans {way}: {size}."
    return f"Check {name}{where}: it is {size}, in {measure.count} long notes."


def _off_register(measure: Measure) -> str:
    register = measure.id.removeprefix("J17r.")
    size = f"about {abs(measure.value):.0f} cents"
    return f"Your {register} register lies {size} {_way(measure.value)} of the rest."


def _drifts(measure: Measure) -> str:
    way = "rises" if measure.value > 0 else "sinks"
    return (
        f"From beginning to end your pitch {way} by about {abs(measure.value):.0f} cents; "
        "check it once more when you are warm."
    )
