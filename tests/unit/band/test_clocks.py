from fractions import Fraction
from pathlib import Path

import pytest

from changewright.band.clocks import clocks_of, swing_ratio
from changewright.music.bar import Meter

SHARED = Path(__file__).parents[4] / "shared" / "data" / "swing_ratio_by_tempo.tsv"


@pytest.mark.parametrize("bpm", [150, 165, 180, 200, 220, 240])
def test_the_ride_keeps_its_short_note_near_a_tenth_of_a_second(bpm: int) -> None:
    # Friberg and Sundström, Music Perception 19(3), 2002: about 100 ms from medium tempo on
    short_s = 60 / bpm / (1 + swing_ratio(bpm))
    assert 0.085 <= short_s <= 0.13


def test_the_ride_evens_out_as_tempo_rises() -> None:
    # the same paper: ratios of up to 3.5:1 fall with tempo to 1:1
    ratios = [swing_ratio(bpm) for bpm in range(60, 400, 10)]
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[0] <= 3.5
    assert ratios[-1] == 1.0


@pytest.mark.parametrize("bpm", range(100, 300, 20))
def test_a_soloist_is_straighter_than_the_ride(bpm: int) -> None:
    # Corcoran and Frieler, Music Perception 38(4), 2021: typically 1.3:1 in 456 solos
    assert 1 < swing_ratio(bpm, "soloist") < swing_ratio(bpm)


@pytest.mark.skipif(not SHARED.exists(), reason="the open data lies beside the repository only")
def test_the_ride_follows_the_trio_tracks() -> None:
    for line in SHARED.read_text("utf-8").splitlines()[1:]:
        player, span, _, _, median, low, high = line.split("\t")
        slow, fast = (float(x) for x in span.strip("(]").split(","))
        if player == "Drums" and fast < 400:
            ratio = swing_ratio((slow + fast) / 2)
            assert ratio == pytest.approx(float(median), abs=0.01)
            assert float(low) <= ratio <= float(high)


def test_the_slider_goes_from_even_to_wide() -> None:
    assert swing_ratio(140, amount=0) == 1
    assert swing_ratio(140, amount=1.5) > swing_ratio(140)
    with pytest.raises(ValueError, match="amount of swing"):
        swing_ratio(140, amount=2)


def test_clocks_begin_behind_the_count_in() -> None:
    clocks = clocks_of("swing", 120, Meter(3, 4), count_in_bars=2)
    assert clocks.band.to_seconds(Fraction(0)) == clocks.line.to_seconds(Fraction(0)) == 3.0


def test_only_swung_feels_in_quarters_swing() -> None:
    assert clocks_of("bossa", 140).band.swing_ratio == 1
    assert clocks_of("swing", 140, Meter(6, 8)).band.swing_ratio == 1
    assert clocks_of("swing", 140, Meter(2, 2)).band.swing_ratio > 2
