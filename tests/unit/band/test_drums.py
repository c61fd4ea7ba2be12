from collections import Counter
from fractions import Fraction

import pytest

from changewright.band.drums import drumming
from changewright.band.feel import PIECES, feel, feels
from changewright.band.song import song_of
from tests.unit.band.material import reading

RIDE, FOOT, KICK, SNARE = (PIECES[p] for p in ("ride", "foot-hat", "kick", "snare"))


def places(midi: int, level: int = 1, name: str = "swing") -> set[Fraction]:
    hits = drumming(song_of([reading()]), feel(name), level, 0)
    return {h.onset % 4 for h in hits if h.midi == midi and h.onset < 44}


def test_swing_time_is_the_ride_and_the_foot_on_two_and_four() -> None:
    # domain reference 7.6: quarters with the offbeats of 2 and 4; hi-hat foot on 2 and 4
    assert places(RIDE) == {0, 1, Fraction(3, 2), 2, 3, Fraction(7, 2)}
    assert places(FOOT) == {1, 3}


def test_the_kick_is_feathered() -> None:
    hits = [h for h in drumming(song_of([reading()]), feel("swing"), 1, 0) if h.onset < 48]
    kicks = [h for h in hits if h.midi == KICK and h.onset > 0]
    rides = [h for h in hits if h.midi == RIDE]
    assert {h.onset % 1 for h in kicks} == {0}
    assert max(h.force for h in kicks) < min(h.force for h in rides) / 2


def test_the_bossa_figure_takes_two_bars() -> None:
    # domain reference 7.6: 1, offbeat of 2, 4 | 2, offbeat of 3: eighth slots 0 3 6 10 13 of 16
    hits = drumming(song_of([reading()]), feel("bossa"), 1, 0)
    slots = {(h.onset % 8) * 2 for h in hits if h.midi == PIECES["cross-stick"] and h.onset < 48}
    assert slots == {0, 3, 6, 10, 13}


def test_shuffle_and_funk_have_a_backbeat() -> None:
    for name in ("shuffle", "funk"):
        loud = [
            h.onset % 4
            for h in drumming(song_of([reading()]), feel(name), 1, 0)
            if h.midi == SNARE and h.force > 0.7
        ]
        assert set(loud) == {1, 3}


@pytest.mark.parametrize("name", sorted(feels()))
def test_fills_mark_the_end_of_the_form(name: str) -> None:
    song = song_of([reading()] * 3)
    time, filled = (drumming(song, feel(name), level, 1) for level in (1, 3))

    def bar(hits, number: int) -> Counter[int]:
        return Counter(h.midi for h in hits if number * 4 <= h.onset < number * 4 + 4)

    assert bar(filled, 11) != bar(time, 11)


def test_a_new_chorus_opens_with_a_crash_never_the_first() -> None:
    crashes = [
        h.onset
        for h in drumming(song_of([reading()] * 3), feel("swing"), 4, 0)
        if h.midi == PIECES["crash"]
    ]
    assert crashes == [48, 96, 144]


def test_choruses_build() -> None:
    song = song_of([reading()] * 6)
    hits = drumming(song, feel("swing"), 6, 3)
    weight = [sum(h.force for h in hits if k * 48 <= h.onset < k * 48 + 48) for k in range(6)]
    assert weight[0] < weight[-1]
