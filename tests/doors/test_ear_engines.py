"""The real listening networks, and the plain stand-in held to the same tests."""

import numpy as np
import pytest

from changewright.ear._engines import (
    ONSET_RATE,
    ONSET_WINDOW,
    PITCH_RATE,
    Engines,
    real_engines,
)
from changewright.ear._sight import TICK_S
from changewright.ear._watch import Watch
from changewright.ear.fakes import PlainListener
from changewright.ear.profile import ANY

LISTENERS = [real_engines(), PlainListener()]
NAMES = ["networks", "stand-in"]


def tone(midi: float, seconds: float, rate: int) -> np.ndarray:
    """Six falling partials of a note in equal temperament, A4 = 440 Hz (ISO 16)."""
    at = np.arange(int(seconds * rate)) / rate
    hertz = 440 * 2 ** ((midi - 69) / 12)
    partials = [np.sin(2 * np.pi * k * hertz * at) / k for k in range(1, 7)]
    return (0.2 * np.sum(partials, axis=0)).astype(np.float32)


@pytest.mark.parametrize("listener", LISTENERS, ids=NAMES)
@pytest.mark.parametrize("midi", [45, 57, 69, 81, 69.3])
def test_a_steady_tone_has_its_pitch(listener: Engines, midi: float) -> None:
    hertz, voicing = listener.pitch(tone(midi, 1.0, PITCH_RATE), 60, 1500)
    middle = slice(10, 50)
    heard = 69 + 12 * np.log2(np.median(hertz[middle]) / 440)
    assert heard == pytest.approx(midi, abs=0.1)
    assert voicing[middle].min() > 0.5


@pytest.mark.parametrize("listener", LISTENERS, ids=NAMES)
def test_noise_is_no_note(listener: Engines) -> None:
    noise = np.random.default_rng(1).standard_normal(PITCH_RATE).astype(np.float32) * 0.1
    _, voicing = listener.pitch(noise, 60, 1500)
    assert np.mean(voicing > 0.5) < 0.05


@pytest.mark.parametrize("listener", LISTENERS, ids=NAMES)
def test_a_frame_every_sixteen_milliseconds_and_every_tick(listener: Engines) -> None:
    hertz, voicing = listener.pitch(tone(60, 2.0, PITCH_RATE), 60, 1500)
    assert len(hertz) == len(voicing) == pytest.approx(125, abs=1)
    onset, note = listener.posteriors(tone(60, 2.0, ONSET_RATE)[:ONSET_WINDOW])
    assert onset.shape == note.shape == (172, 88)


def test_posteriors_do_not_drift_over_half_a_minute() -> None:
    """PITFALL: windows are no whole number of hops; frames stamped by count drift 1 % a window."""
    sound = np.zeros(30 * ONSET_RATE, dtype=np.float32)
    starts = [1.0, 9.37, 17.91, 28.2]
    for start in starts:
        begin = int(start * ONSET_RATE)
        sound[begin : begin + ONSET_RATE] = tone(60, 1.0, ONSET_RATE)
    watch = Watch(ONSET_RATE, ANY, real_engines())
    watch.push(sound, 1.0)
    watch.finish(1.0)
    sight = watch.sight(0, watch.ticks, 1.0)
    onset, note, key = sight.onset, sight.note, 60 - 21
    for start in starts:
        near = slice(int((start - 0.2) / TICK_S), int((start + 0.3) / TICK_S))
        peak = (near.start + int(np.argmax(onset[near, key]))) * TICK_S
        assert peak == pytest.approx(start, abs=0.04)
        assert note[int((start + 0.5) / TICK_S), key] > 0.3
