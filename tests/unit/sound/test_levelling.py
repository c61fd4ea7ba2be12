"""Dips around peaks: gentle, shared by all stems, and never over the ceiling."""

import numpy as np
import pyloudnorm
import pytest
from scipy.signal import resample_poly

from changewright.band.accompany import accompany
from changewright.band.feel import feel, feels
from changewright.music.performance import Event, Part, Performance
from changewright.sound.levelling import (
    DEEPEST_DB,
    LOUDNESS_LUFS,
    TRUE_PEAK_DBTP,
    levelling,
)
from changewright.sound.loudness import HOP, Meter
from changewright.sound.stems import render
from tests.unit.band.material import BLUES, reading


def spiky(seconds: int = 8) -> np.ndarray:
    """Noise with a short burst each second that stands far out of it; shape (2, frames)."""
    rng = np.random.default_rng(11)
    noise = rng.normal(0, 0.02, 48_000 * seconds)
    for at in range(24_000, len(noise), 48_000):
        noise[at : at + 200] += 0.35 * np.sin(np.arange(200) * 0.3)
    return np.stack([noise, noise]).astype(np.float32)


def levelled(audio: np.ndarray):
    meter = Meter()
    meter.add(audio)
    return levelling(meter)


def test_a_peak_is_dipped_under_the_ceiling_and_the_rest_left_alone() -> None:
    audio = spiky()
    level = levelled(audio)
    made = level.applied(audio.T)
    # Oracle: ITU-R BS.1770-4, annex 2, by eightfold oversampling with scipy.
    peak = 20 * np.log10(np.abs(resample_poly(made, 8, 1, axis=0)).max())
    assert peak <= TRUE_PEAK_DBTP
    assert level.loudness.true_peak_dbtp == pytest.approx(peak, abs=0.1)
    gains = made[:, 0] / np.where(audio[0] == 0, 1, audio[0])
    assert gains.max() == pytest.approx(level.gain, rel=1e-3)
    assert 20 * np.log10(gains[gains > 0].min() / level.gain) >= -DEEPEST_DB - 0.01
    far = 2 * 48_000  # half a second from any burst
    assert gains[far] == pytest.approx(level.gain, rel=1e-3)


def test_the_gain_moves_slowly() -> None:
    level = levelled(spiky())
    assert level.dips is not None
    steps = np.abs(np.diff(20 * np.log10(level.dips)))
    assert steps.max() < 0.6  # dB in ten milliseconds


def test_a_stretch_is_the_same_alone_or_with_its_neighbours() -> None:
    audio = spiky()
    level = levelled(audio)
    whole = level.applied(audio.T)
    for start, stop in ((0, 5 * HOP), (12_345, 60_001), (300_000, audio.shape[1])):
        assert np.array_equal(level.applied(audio.T[start:stop], start), whole[start:stop])


def test_what_has_room_is_not_touched() -> None:
    noise = np.random.default_rng(3).normal(0, 0.02, (2, 96_000)).astype(np.float32)
    level = levelled(noise)
    assert level.dips is None
    assert level.loudness.lufs == pytest.approx(LOUDNESS_LUFS)


def test_stems_that_dip_together_still_sum_to_the_mix() -> None:
    hits = tuple(Event(0.5 + k, 0.1, 36, 127) for k in range(6))
    soft = tuple(Event(k / 4, 0.25, 60 + k % 5, 40) for k in range(26))
    stems = render(
        Performance((Part("drums", 32, hits, is_drums=True), Part("comping", 0, soft)), 7.0)
    )
    assert np.array_equal(stems["drums"] + stems["comping"], stems.mix)


@pytest.mark.parametrize("name", ["ballad", "funk", "twelve-eight"])
def test_the_sparsest_feels_at_their_slowest_are_as_loud_as_any(name: str) -> None:
    # Oracle: pyloudnorm (MIT), an independent ITU-R BS.1770-4 meter.
    _loud_enough(name, feel(name).tempo[0], choruses=1)


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(feels()))
def test_every_feel_is_as_loud_at_any_of_its_tempi(name: str) -> None:
    slow, fast = feel(name).tempo
    for bpm in (slow, (slow + fast) / 2, fast):
        _loud_enough(name, bpm, choruses=2)


def _loud_enough(name: str, bpm: float, choruses: int) -> None:
    stems = render(
        accompany(reading(BLUES), bpm=bpm, feel=name, choruses=choruses, seed=3, level=5)
    )
    heard = pyloudnorm.Meter(48_000).integrated_loudness(stems.mix.astype(float))
    assert heard == pytest.approx(LOUDNESS_LUFS, abs=0.5)
    assert stems.loudness.lufs == pytest.approx(heard, abs=0.1)
    assert stems.loudness.true_peak_dbtp <= TRUE_PEAK_DBTP
    assert np.abs(stems.mix).max() < 10 ** (TRUE_PEAK_DBTP / 20)
