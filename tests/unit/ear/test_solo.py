from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import pytest

from changewright.ear.solo import solo_document, study_solo
from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.reading.analyse import analyse
from tests.unit.ear.exercises import blues

READING = analyse(blues())
CLOCK = Clock(140, 1.0, Fraction(4))


def take_of(notes: list[tuple[float, float, int]], late_s: float = 0.0, sure: float = 1.0) -> Take:
    """Notes as (quarter, quarters long, MIDI number) at the clock."""
    quarter = CLOCK.quarter_s
    heard = [
        HeardNote(
            (4 + at) * quarter + late_s, (4 + at + long) * quarter + late_s, midi, 0, -20, sure
        )
        for at, long, midi in notes
    ]
    return Take(tuple(heard), 200.0, source="midi")


def tones(choruses: int, which: int) -> Iterator[tuple[float, float, int]]:
    """One chord tone of each bar on every beat."""
    for chorus in range(choruses):
        for bar in READING.bars:
            chord = bar.changes[0].chord
            pitch = 60 + chord.tone(chord.four[which]).pc
            for beat in range(4):
                yield float(48 * chorus + bar.start + beat), 0.6, pitch


def value(take: Take, name: str) -> float:
    measure = study_solo(take, READING, CLOCK).measure(name)
    assert measure is not None
    return measure.value


@pytest.mark.parametrize(("which", "guide"), [(0, 0.0), (1, 1.0), (3, 1.0)])
def test_chord_tones_on_every_beat_are_chord_tones(which: int, guide: float) -> None:
    take = take_of(list(tones(2, which)))
    assert value(take, "J1") == 1
    assert value(take, "J2") == guide
    assert value(take, "J4") == 1
    assert value(take, "J5") == guide


def test_random_notes_score_what_is_called_chance() -> None:
    """An outside check of the stated chance: pitch classes drawn evenly, 16,000 of them."""
    rng = np.random.default_rng(11)
    notes = [(0.5 * k, 0.4, int(rng.integers(48, 84))) for k in range(16_000)]
    hearing = study_solo(take_of(notes), READING, CLOCK)
    for name in ("J1", "J2", "J3", "J4", "J5"):
        measure = hearing.measure(name)
        assert measure is not None
        assert measure.chance is not None
        assert measure.value == pytest.approx(measure.chance, abs=0.06)
        assert abs(measure.lift or 0) < 0.2


def test_an_eighth_before_the_change_belongs_to_the_chord_to_come() -> None:
    notes = list(tones(1, 1))
    early = [(at - 0.5, long, midi) if at == 16 else (at, long, midi) for at, long, midi in notes]
    early = [n for n in early if n[0] != 15]
    assert value(take_of(early), "J4") == 1


@pytest.mark.parametrize("late", [-0.02, 0.0, 0.045])
def test_place_against_the_beat_is_measured_and_taken_out(late: float) -> None:
    take = take_of(list(tones(2, 0)), late)
    assert value(take, "J10") == pytest.approx(1000 * late, abs=1)
    assert value(take, "J1") == 1


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0])
def test_the_swing_ratio_is_the_one_played(ratio: float) -> None:
    off = ratio / (1 + ratio)
    notes = [(k + part, 0.3, 60 + k % 5) for k in range(40) for part in (0, off)]
    assert value(take_of(notes), "J11") == pytest.approx(ratio, abs=0.02)


def test_phrases_space_intervals_rhythms_and_range() -> None:
    """Two bars of quarters up in steps, two bars of rest, six times."""
    notes = [(16.0 * k + beat, 1.0, 60 + 2 * beat) for k in range(6) for beat in range(8)]
    take = take_of(notes)
    assert value(take, "J12") == pytest.approx(8.0)
    assert value(take, "J12r") == pytest.approx(40 / 88, abs=0.01)
    assert value(take, "J13") == 1
    assert value(take, "J14") == 1
    assert value(take, "J15d") == pytest.approx(1 / 12)
    assert value(take, "J16") == 14


@pytest.mark.parametrize(
    ("take", "words"),
    [
        (take_of([]), "nothing to say"),
        (take_of(list(tones(1, 0))[:20]), "too few"),
        (take_of(list(tones(2, 0)), sure=0.5), "nothing to say"),
    ],
)
def test_what_is_too_little_is_not_compared(take: Take, words: str) -> None:
    hearing = study_solo(take, READING, CLOCK)
    assert not hearing.compared
    assert words in hearing.reason
    assert all(
        "on record" not in m.sentence(hearing.compared) or m.detail for m in hearing.measures
    )


def test_nothing_is_called_weak_and_there_is_no_total() -> None:
    hearing = study_solo(take_of(list(tones(2, 0))), READING, CLOCK)
    said = " ".join(hearing.lines()) + str(solo_document(hearing))
    assert hearing.compared
    for word in ("weak", "wrong", "score", "total", "grade", "%"):
        assert word not in said
