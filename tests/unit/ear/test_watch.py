"""What is seen of a sound does not depend on the blocks in which it comes."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, firwin, resample_poly, sosfilt, sosfilt_zi

from changewright.ear._engines import ONSET_HOP, real_engines
from changewright.ear._products import product
from changewright.ear._streams import THINS, HighPass, Resampler
from changewright.ear._watch import STEP, Watch
from changewright.ear.profile import ANY

RATE = 22_050


def _sound(seconds: float, rate: int = RATE) -> np.ndarray:
    """Three tones and some noise."""
    at = np.arange(round(seconds * rate)) / rate
    hertz = 220 * 2 ** (np.floor(at / 0.8) % 3 / 3)
    noise = 0.01 * np.random.default_rng(2).standard_normal(len(at))
    gate = (at % 0.8 < 0.6).astype(float)
    return (0.4 * gate * np.sin(2 * np.pi * np.cumsum(hertz) / rate) + noise).astype(np.float32)


def _watched(sound: np.ndarray, size: int, step: int = STEP) -> Watch:
    watch = Watch(RATE, ANY, real_engines(), step)
    for first in range(0, len(sound), size):
        watch.push(sound[first : first + size], 1.3)
    watch.finish(1.3)
    return watch


@pytest.mark.parametrize("size", [1000, 50_000])
def test_the_evidence_is_the_same_however_the_sound_is_cut(size: int) -> None:
    sound = _sound(6)
    whole, cut = _watched(sound, len(sound)), _watched(sound, size)
    assert whole.ticks == cut.ticks == len(sound) // ONSET_HOP
    one, other = whole.sight(0, whole.ticks, 1), cut.sight(0, cut.ticks, 1)
    for name in ("pitch", "voicing", "onset", "note", "flux", "dip", "fine_db"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=2e-3), name


def test_a_shorter_step_sees_nearly_the_same() -> None:
    sound = _sound(6)
    long, short = _watched(sound, 4000), _watched(sound, 4000, 70)
    one, other = long.sight(0, long.ticks, 1), short.sight(0, short.ticks, 1)
    assert one.pitch == pytest.approx(other.pitch, abs=1e-3)
    assert np.abs(one.note - other.note).mean() < 0.02


def test_a_part_is_a_part_of_the_whole_and_what_is_forgotten_is_gone() -> None:
    watch = _watched(_sound(6), 9000)
    part, whole = watch.sight(150, 300, 1), watch.sight(0, watch.ticks, 1)
    assert np.array_equal(part.pitch, whole.pitch[150:300])
    assert np.array_equal(part.fine_db, whole.fine_db[600:1200])
    watch.forget(200)
    assert np.array_equal(watch.sight(200, 300, 1).note, whole.note[200:300])


@settings(max_examples=20)
@given(
    rate=st.sampled_from([8000, 22_028, 22_050, 24_000, 44_100, 48_000]),
    sizes=st.lists(st.integers(1, 9000), min_size=1, max_size=6),
)
def test_resampling_in_blocks_is_resampling_at_once(rate: int, sizes: list[int]) -> None:
    sound = np.random.default_rng(1).standard_normal(sum(sizes)).astype(np.float32)
    stream = Resampler(rate, RATE)
    edges = np.cumsum([0, *sizes])
    parts = [stream.push(sound[a:b]) for a, b in pairwise(edges)]
    at_once = resample_poly(sound, RATE, rate)
    assert np.concatenate([*parts, stream.flush()]) == pytest.approx(at_once, abs=1e-5)


@pytest.mark.parametrize("size", [700, 5000, 200_000])
def test_the_high_pass_is_a_butterworth_filter_however_the_sound_is_cut(size: int) -> None:
    sound = _sound(3)
    sections = butter(2, 35, "highpass", fs=RATE, output="sos")
    wanted, _ = sosfilt(sections, sound, zi=sosfilt_zi(sections) * sound[0])
    stream = HighPass(RATE, 35)
    parts = [stream.push(sound[k : k + size]) for k in range(0, len(sound), size)]
    assert np.concatenate(parts) == pytest.approx(wanted, abs=2e-6)


@pytest.mark.parametrize("factor", [2, 4])
def test_thinning_is_filtering_and_leaving_out(factor: int) -> None:
    sound = _sound(1)
    stream = Resampler(factor, 1, THINS)
    parts = [stream.push(sound[:5001]), stream.push(sound[5001:]), stream.flush()]
    taps = firwin(32 * factor + 1, 0.9 / factor)
    wanted = np.convolve(sound, taps)[16 * factor :][: len(sound)][::factor]
    assert np.concatenate(parts) == pytest.approx(wanted, abs=2e-6)


def test_the_high_pass_takes_a_constant_out_from_the_first_sample_on() -> None:
    sound = _sound(1)
    still = HighPass(RATE, 35)
    moved = HighPass(RATE, 35)
    assert moved.push(sound + np.float32(0.5)) == pytest.approx(still.push(sound), abs=1e-4)


def test_a_product_in_parts_is_the_product() -> None:
    rng = np.random.default_rng(4)
    rows, table = (rng.standard_normal(s).astype(np.float32) for s in ((700, 90), (90, 64)))
    assert product(rows, table) == pytest.approx(rows @ table, abs=1e-4)
    assert product(rows[:0], table).shape == (0, 64)
