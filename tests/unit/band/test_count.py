from fractions import Fraction

import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt

from changewright.band.accompany import accompany
from changewright.band.clocks import clocks_of
from changewright.band.count import WORDS_KIT, clicked, spoken
from changewright.music.bar import FOUR_FOUR, Bar, Meter
from changewright.music.performance import Performance
from changewright.sound.bank import WORDS, voice_of
from changewright.sound.mix import frame_of, strikes_of
from changewright.sound.stems import render
from tests.unit.band.material import reading


def bar(meter: Meter = FOUR_FOUR, number: int = 1, length: Fraction | None = None) -> Bar:
    return Bar(number, Fraction(0), length or meter.length, meter, ())


def words(bars: int, bpm: float, first: Bar) -> list[tuple[float, int]]:
    clock = clocks_of("swing", bpm, first.meter, count_in_bars=bars).band
    return [(e.onset_s / clock.quarter_s, e.midi) for e in spoken(first, bars, clock).events]


def test_two_quick_bars_are_counted_in_halves_and_quarters() -> None:
    # Source: common practice, no source: "one, two, one two three four".
    counted = words(2, 160, bar())
    assert [n for _, n in counted] == [1, 2, 1, 2, 3, 4]
    assert [at for at, _ in counted] == pytest.approx([0, 2, 4, 5, 6, 7])


def test_slow_time_and_waltzes_are_counted_beat_by_beat() -> None:
    assert [n for _, n in words(1, 60, bar())] == [1, 2, 3, 4]
    assert [n for _, n in words(1, 160, bar(Meter(3, 4)))] == [1, 2, 3]
    assert [at for at, _ in words(1, 90, bar(Meter(6, 8)))] == pytest.approx([0, 1.5])


def test_a_pickup_is_counted_into_on_its_own_beat() -> None:
    pickup = bar(number=0, length=Fraction(1))
    clock = clocks_of("swing", 100).band
    onsets = [e.onset_s / clock.quarter_s for e in spoken(pickup, 1, clock).events]
    assert onsets == pytest.approx([1, 2, 3, 4])  # the pickup is the fourth beat


def test_clicks_fall_where_words_do() -> None:
    clock = clocks_of("swing", 160, count_in_bars=2).band
    hits = clicked(bar(), 2, clock)
    assert [h.onset + 8 for h in hits] == [at for at, _ in words(2, 160, bar())]


def _alone(bpm: float) -> tuple[Performance, np.ndarray]:
    clock = clocks_of("swing", bpm, count_in_bars=2).band
    part = spoken(bar(), 1, clock)
    played = Performance((part,), 8 * clock.quarter_s)
    return played, render(played)["count-in"].mean(axis=1, dtype=float)


def test_the_beat_of_every_word_is_on_the_beat() -> None:
    """Where the band of the first formants rises to half its loudest. Source: Scott, P-centres in
    speech (UCL, 1993), from memory."""
    played, audio = _alone(70)
    band = sosfiltfilt(butter(2, (500, 1600), "bandpass", fs=48_000, output="sos"), audio)
    loud = np.sqrt(np.convolve(band**2, np.ones(480) / 480, "same"))
    for event in played.parts[0].events:
        at = frame_of(event.onset_s)
        near = loud[at - 9_600 : at + 24_000]
        heard = int(np.argmax(near >= 0.5 * near.max())) - 9_600
        assert abs(heard) < 0.005 * 48_000


def test_a_word_gives_way_to_the_next() -> None:
    played, _ = _alone(300)
    strikes = strikes_of(played.parts[0])
    assert all(s.held <= 0.2 * 48_000 + s.onset - s.start + 1 for s in strikes)
    assert voice_of(WORDS_KIT, is_drums=True).id == WORDS


def test_the_count_is_softer_than_the_music() -> None:
    clocks = clocks_of("swing", 132, count_in_bars=1)
    band = accompany(reading(), bpm=132, seed=3, level=5)
    said = spoken(reading().bars[0], 1, clocks.band)
    stems = render(Performance((said, *band.parts[1:]), band.length_s))
    start = frame_of(clocks.band.to_seconds(Fraction(0)))

    def loudest(audio: np.ndarray) -> float:
        """RMS of the loudest 400 ms in dB."""
        power = np.cumsum(np.square(audio, dtype=float).sum(axis=1))
        return float(10 * np.log10((power[19_200:] - power[:-19_200]).max()))

    music = stems.mix[start : start + 480_000]
    assert -18 < loudest(stems["count-in"]) - loudest(music) < -8
