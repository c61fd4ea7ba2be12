"""A voice's notes: what singers do within a note is not a note of its own.

The shapes of pitch are those of F0 in singing as T. Saitou, M. Unoki and M. Akagi describe them
("Development of an F0 control model based on F0 dynamic characteristics for singing-voice
synthesis", Speech Communication 46, 2005): glides into a note, vibrato, fluctuation.
"""

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from changewright.ear.audio import Audio
from changewright.ear.take import HeardNote
from changewright.ear.transcribe import transcribe
from changewright.theory.instrument import instrument

RATE = 22_050
OPEN, CLOSED = (730, 1090, 2440), (300, 870, 2240)
"""Resonances of two vowels in hertz. Source: G. Peterson, H. Barney, 1952, as rounded since."""

Curve = NDArray[np.float64]


def at(*points: tuple[float, float]) -> Curve:
    """A curve through (seconds, value), sample by sample."""
    seconds, values = zip(*points, strict=True)
    return np.interp(np.arange(int(seconds[-1] * RATE)) / RATE, seconds, values)


def sung(
    pitch: Curve, level: Curve, closed: Curve | None = None, noise: Curve | None = None
) -> Sequence[HeardNote]:
    """Notes heard of a voice with this pitch (MIDI) and level, its vowel ``closed`` by so much and
    the noise of consonants in it."""
    hertz = 440 * 2 ** ((pitch - 69) / 12)
    phase = 2 * np.pi * np.cumsum(hertz) / RATE
    mouth = np.zeros(len(pitch)) if closed is None else closed
    wave = np.zeros(len(pitch))
    for k in range(1, 21):
        gain = sum(
            peak / (1 + ((k * hertz - (1 - mouth) * a - mouth * b) / 120) ** 2)
            for peak, a, b in zip((1.0, 0.6, 0.25), OPEN, CLOSED, strict=True)
        )
        wave += np.where(k * hertz < 9000, (gain + 0.03) / k * np.sin(k * phase), 0)
    wave *= level / np.abs(wave).max()
    breath = np.random.default_rng(0).standard_normal(len(pitch))
    wave += breath * (0.002 if noise is None else 0.002 + noise)
    silence = np.zeros(RATE // 2)
    whole = np.concatenate([silence, 0.4 * wave, silence]).astype(np.float32)
    heard = transcribe(Audio(whole, RATE), instrument=instrument("baritone voice")).notes
    return [n for n in heard if n.confidence > 0.3]


def held(seconds: float) -> Curve:
    return at((0, 0), (0.05, 1), (seconds - 0.08, 1), (seconds, 0))


def test_a_glide_belongs_to_the_note_it_leads_to() -> None:
    (note,) = sung(at((0, 49), (0.07, 49), (0.14, 52), (1, 52)), held(1))
    assert note.midi == 52
    assert note.onset_s == pytest.approx(0.52, abs=0.05)


@pytest.mark.parametrize("cents", [40, 90])
def test_a_vibrato_is_one_note(cents: float) -> None:
    seconds = np.arange(int(1.6 * RATE)) / RATE
    wave = cents / 100 * np.sin(2 * np.pi * 5.5 * seconds) * np.clip(seconds / 0.3, 0, 1)
    (note,) = sung(52 + wave, held(1.6))
    assert note.midi == 52
    assert note.length_s == pytest.approx(1.55, abs=0.12)


def test_a_swell_within_a_note_is_no_new_note() -> None:
    level = at((0, 0), (0.05, 0.7), (0.5, 0.9), (0.7, 0.4), (0.9, 0.9), (1.2, 1), (1.3, 0))
    assert [n.midi for n in sung(at((0, 50), (1.3, 50)), level)] == [50]


def test_a_slow_drift_is_one_note() -> None:
    assert [n.midi for n in sung(at((0, 50.3), (1.5, 49.6)), held(1.5))] == [50]


def test_a_turn_too_short_to_be_a_note_is_none() -> None:
    pitch = at((0, 50), (0.5, 50), (0.51, 52), (0.54, 52), (0.55, 50), (1.1, 50))
    assert {n.midi for n in sung(pitch, held(1.1))} == {50}


def test_steps_slurred_on_one_vowel_are_notes() -> None:
    pitch = at((0, 50), (0.38, 50), (0.42, 52), (0.78, 52), (0.82, 53), (1.2, 53))
    notes = sung(pitch, held(1.2))
    assert [n.midi for n in notes] == [50, 52, 53]
    assert [n.onset_s for n in notes] == pytest.approx([0.5, 0.9, 1.3], abs=0.05)


def test_syllables_on_one_pitch_are_notes() -> None:
    """One voiced consonant and a new vowel, one hiss."""
    level = at(
        *((0, 0), (0.05, 1), (0.36, 1), (0.38, 0.3), (0.42, 0.3), (0.44, 1)),
        *((0.8, 1), (0.82, 0.01), (0.88, 0.01), (0.9, 1), (1.2, 1), (1.3, 0)),
    )
    closed = at((0, 0), (0.38, 0), (0.42, 1), (0.8, 1), (0.88, 0), (1.3, 0))
    noise = at((0, 0), (0.81, 0), (0.82, 0.15), (0.88, 0.15), (0.89, 0), (1.3, 0))
    notes = sung(at((0, 50), (1.3, 50)), level, closed, noise)
    assert [n.midi for n in notes] == [50, 50, 50]
    assert [n.onset_s for n in notes[1:]] == pytest.approx([0.93, 1.39], abs=0.05)


def test_a_voice_between_the_semitones_keeps_its_notes_whole() -> None:
    """Near half a semitone it is unsure which key is meant, but not how many notes there are."""
    pitch = at((0, 50), (0.38, 50), (0.42, 52.45), (0.78, 52.45), (0.82, 51.4), (1.3, 51.4))
    notes = sung(pitch, held(1.3))
    assert [n.pitch for n in notes] == pytest.approx([50, 52.45, 51.4], abs=0.15)
