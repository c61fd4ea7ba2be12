"""The meter against an independent implementation of ITU-R BS.1770 and against EBU test signals."""

import numpy as np
import pyloudnorm
import pytest
from scipy.signal import resample_poly

from changewright.sound.loudness import SILENT_LUFS, Loudness, Meter


def sine(level_db: float, seconds: float, hz: float = 1_000.0) -> np.ndarray:
    wave = 10 ** (level_db / 20) * np.sin(
        2 * np.pi * hz * np.arange(int(seconds * 48_000)) / 48_000
    )
    return np.stack([wave, wave]).astype(np.float32)


def measured(audio: np.ndarray, block: int | None = None) -> Loudness:
    meter = Meter()
    for at in range(0, audio.shape[1], block or audio.shape[1]):
        meter.add(audio[:, at : at + (block or audio.shape[1])])
    return meter.result()


@pytest.mark.parametrize("level", [-23.0, -33.0])
def test_a_stereo_sine_reads_its_level(level: float) -> None:
    # EBU Tech 3341, cases 1 and 2: a 1 kHz stereo sine at -23 (-33) dBFS reads so in LUFS +-0.1
    assert measured(sine(level, 20)).lufs == pytest.approx(level, abs=0.1)


def test_the_gates_leave_quiet_stretches_out() -> None:
    # EBU Tech 3341, case 3: -36, -23, -36 dBFS for 10, 60, 10 s reads -23 LUFS
    audio = np.concatenate([sine(-36, 10), sine(-23, 60), sine(-36, 10)], axis=1)
    assert measured(audio).lufs == pytest.approx(-23, abs=0.1)


def test_an_independent_meter_agrees_on_noise() -> None:
    rng = np.random.default_rng(4)
    noise = rng.normal(0, 0.05, (48_000 * 6, 2)) * np.linspace(0.1, 1, 48_000 * 6)[:, None]
    expected = pyloudnorm.Meter(48_000).integrated_loudness(noise)
    assert measured(noise.T.astype(np.float32)).lufs == pytest.approx(expected, abs=0.1)


def test_blocks_of_any_size_read_the_same() -> None:
    rng = np.random.default_rng(5)
    noise = rng.normal(0, 0.1, (2, 100_000)).astype(np.float32)
    whole = measured(noise)
    for block in (997, 48_000):
        other = measured(noise, block)
        assert other.lufs == pytest.approx(whole.lufs, abs=1e-9)
        assert other.true_peak_dbtp == pytest.approx(whole.true_peak_dbtp, abs=0.05)


def test_a_peak_between_samples_is_found() -> None:
    # a sine at a quarter of the rate, at 45 degrees: samples reach -3.01 dB of its true peak
    wave = (0.5 * np.sin(np.pi / 2 * np.arange(48_000) + np.pi / 4)).astype(np.float32)
    fade = np.minimum(np.arange(48_000) / 4_800, 1).astype(np.float32)
    heard = measured(np.stack([wave * fade, wave * fade])).true_peak_dbtp
    assert heard == pytest.approx(-6.02, abs=0.25)
    dense = np.abs(resample_poly(wave * fade, 16, 1)[:-800]).max()
    assert heard == pytest.approx(20 * np.log10(dense), abs=0.25)


def test_silence_is_silent() -> None:
    nothing = measured(np.zeros((2, 96_000), dtype=np.float32))
    assert nothing == Loudness(SILENT_LUFS, SILENT_LUFS)
    assert Meter().result().lufs == SILENT_LUFS


def test_only_the_rate_of_the_filters_is_taken() -> None:
    with pytest.raises(ValueError, match="48000"):
        Meter(44_100)
