from fractions import Fraction

import pytest

from changewright.band.song import beat_lengths, chorus_shifts, fitting, song_of
from changewright.music.bar import Bar, Meter
from changewright.reading.model import Reading
from changewright.theory.key import Key
from tests.unit.band.material import BLUES, reading


@pytest.mark.parametrize(
    ("meter", "beats"),
    [
        (Meter(4, 4), [1, 1, 1, 1]),
        (Meter(6, 8), [Fraction(3, 2)] * 2),
        (Meter(12, 8), [Fraction(3, 2)] * 4),
        (Meter(3, 8), [Fraction(3, 2)]),
        (Meter(7, 8), [1, 1, Fraction(3, 2)]),
        (Meter(5, 8), [1, Fraction(3, 2)]),
        (Meter(2, 2), [1, 1, 1, 1]),
    ],
)
def test_bars_are_felt_in_beats(meter: Meter, beats: list[Fraction]) -> None:
    assert list(beat_lengths(meter, meter.length)) == beats


@pytest.mark.parametrize(
    ("known", "beats", "groups"),
    [
        ((2, 3, 4), 5, [(3, 3), (2, 2)]),
        ((2, 3, 4), 7, [(4, 4), (3, 3)]),
        ((2, 3, 5), 5, [(5, 5)]),
        ((2, 3, 4), 6, [(4, 4), (2, 2)]),
        ((4,), 3, [(4, 3)]),
        ((4,), 5, [(4, 4), (4, 1)]),
        ((), 4, []),
    ],
)
def test_a_bar_is_filled_with_the_rhythms_there_are(
    known: tuple[int, ...], beats: int, groups: list[tuple[int, int]]
) -> None:
    assert fitting(known, beats) == groups


def test_choruses_follow_each_other_and_chords_merge_over_bar_lines() -> None:
    song = song_of([reading((("F7", 8), ("Bb7", 8)))] * 2)
    assert song.length == 32
    assert [(s.onset, s.end) for s in song.stretches] == [(0, 8), (8, 16), (16, 24), (24, 32)]
    assert song.at(Fraction(9)).chord == song.stretches[1].chord
    assert song.at(song.length).chord == song.stretches[0].chord


def test_a_blues_is_one_section_of_three_phrases() -> None:
    song = song_of([reading(BLUES)])
    assert [b.bar.number for b in song.bars if b.opens] == [1]
    assert [b.bar.number for b in song.bars if b.phrase_ends] == [4, 8, 12]
    assert song.bars[-1].is_last


def test_a_pickup_comes_once() -> None:
    meter = Meter(4, 4)
    pickup = Bar(0, Fraction(0), Fraction(1), meter, ())
    full = Bar(1, Fraction(1), Fraction(4), meter, ())
    assert chorus_shifts((pickup, full), 3) == [0, 4, 8]
    song = song_of([Reading("", Key.parse("C"), (pickup, full), ())] * 3)
    assert [(b.bar.number, b.start) for b in song.bars] == [(0, 0), (1, 1), (1, 5), (1, 9)]
    assert song.length == 13
