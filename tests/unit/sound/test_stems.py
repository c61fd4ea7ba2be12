import numpy as np
import pyloudnorm
import pytest

from changewright.errors import InputError
from changewright.music.performance import Event, Part, Performance
from changewright.sound.levelling import LOUDNESS_LUFS, TRUE_PEAK_DBTP
from changewright.sound.stems import render
from tests.unit.sound.material import quartet


def test_stems_share_one_axis_and_sum_to_the_mix_exactly() -> None:
    stems = render(quartet())
    assert tuple(stems) == ("bass", "comping", "drums", "line")
    assert {stems[name].shape for name in stems} == {(stems.frames, 2)}
    assert {stems[name].dtype for name in stems} == {np.dtype(np.float32)}
    total = np.zeros((stems.frames, 2), dtype=np.float32)
    for name in stems:
        total += stems[name]
    assert np.array_equal(total, stems.mix)


def test_the_mix_is_as_loud_as_stated_by_an_independent_meter() -> None:
    stems = render(quartet(12.0))
    heard = pyloudnorm.Meter(48_000).integrated_loudness(stems.mix.astype(float))
    assert heard == pytest.approx(LOUDNESS_LUFS, abs=0.2)
    assert stems.loudness.lufs == pytest.approx(heard, abs=0.1)
    assert stems.loudness.true_peak_dbtp <= TRUE_PEAK_DBTP
    assert np.abs(stems.mix).max() < 1


def test_a_peaky_mix_is_kept_under_full_scale_rather_than_made_loud() -> None:
    hits = tuple(Event(2.0 * k, 0.1, 75, 127) for k in range(6))
    stems = render(Performance((Part("drums", 32, hits, is_drums=True),), 12.0))
    assert stems.loudness.true_peak_dbtp <= TRUE_PEAK_DBTP
    assert stems.loudness.lufs < LOUDNESS_LUFS


def test_the_line_is_the_loudest() -> None:
    stems, meter = render(quartet(12.0)), pyloudnorm.Meter(48_000)
    level = {name: meter.integrated_loudness(stems[name].astype(float)) for name in stems}
    assert all(level["line"] > level[name] + 3 for name in ("bass", "comping", "drums"))


def test_the_same_performance_sounds_the_same() -> None:
    one, other = render(quartet()), render(quartet())
    assert all(np.array_equal(one[name], other[name]) for name in one)


def test_an_empty_performance_is_a_short_silence() -> None:
    stems = render(Performance((Part("bass", 32, ()),), 1.0))
    assert stems.frames == 48_000
    assert not stems.mix.any()


def test_other_rates_are_refused() -> None:
    with pytest.raises(ValueError, match="48000"):
        render(quartet(), rate=44_100)


def test_hours_are_not_held_in_memory() -> None:
    with pytest.raises(InputError, match=r"120 minutes.*\n.*stream_stems"):
        render(Performance((Part("bass", 32, ()),), 7200.0))


def test_a_note_that_never_ends_is_let_go() -> None:
    stems = render(Performance((Part("line", 66, (Event(0.0, 1e9, 60, 80),)),), 1.0))
    assert stems.frames <= 4 * 48_000
