"""The map of difficulty. Source: domain reference 5.1 (teaching practice)."""

import pytest

from changewright.reading.analyse import analyse
from changewright.reading.difficulty import chord_level, difficulty_of, key_level, tempo_level
from changewright.theory.key import Key
from changewright.theory.symbols import read_symbol
from tests.unit.reading.forms import chart


@pytest.mark.parametrize(
    ("symbol", "level"),
    [
        ("Cmaj7", 1), ("C7", 1), ("Cm7", 1), ("C6", 2), ("Cm6", 2), ("Cm7(b5)", 3), ("C°7", 3),
        ("C7sus4", 3), ("C7(b9)", 4), ("C7alt", 5), ("C7(#11)", 5), ("Cm(maj7)", 5), ("D/C", 6),
    ],
)  # fmt: skip
def test_chords_by_level(symbol: str, level: int) -> None:
    assert chord_level(read_symbol(symbol)) == level


@pytest.mark.parametrize(
    ("key", "level"),
    [("F", 1), ("Bb", 1), ("C", 1), ("Dm", 1), ("Eb", 2), ("Ab", 3), ("G", 4), ("Db", 4), ("E", 5)],
)
def test_keys_by_level(key: str, level: int) -> None:
    assert key_level(Key.parse(key)) == level


@pytest.mark.parametrize(
    ("bpm", "level"), [(60, 1), (84, 1), (85, 2), (144, 4), (260, 7), (400, 8)]
)
def test_tempos_by_level(bpm: int, level: int) -> None:
    assert tempo_level(bpm) == level


def test_three_chord_blues_is_slow_and_plain() -> None:
    found = difficulty_of(analyse(chart("F7|%|%|%|Bb7|%|F7|%|C7|Bb7|F7|C7")), 80)
    assert [bar.level for bar in found.bars] == [1] * 8 + [2] * 4
    assert found.hardest[0].reasons == ("a chord for one bar only",)
    assert (found.level, found.chord_types, found.key_changes) == (2, 1, 0)


def test_jazz_blues_is_hardest_at_its_flat_nine() -> None:
    text = "F7|Bb7|F7|Cm7 F7|Bb7|B°7|F7|D7(b9)|Gm7|C7|F7 D7(b9)|Gm7 C7"
    found = difficulty_of(analyse(chart(text)), 120)
    assert [bar.bar for bar in found.hardest] == [8]  # bar 11 is hard for the same reason
    assert found.hardest[0].reasons == ("a flat 9th, D7(b9)",)
    assert found.chromatic_roots == 1  # B°7
    assert found.chords_a_bar == 1.25


def test_cycle_of_major_thirds_is_late() -> None:
    found = difficulty_of(analyse(chart("Cmaj7 Eb7|Abmaj7 B7|Emaj7 G7|Cmaj7")), 100)
    assert found.level == 7
    assert "a cycle of major thirds" in found.hardest[0].reasons
    assert [str(key) for key in found.keys] == ["C", "Ab", "E"]


def test_fast_tempo_raises_the_whole() -> None:
    reading = analyse(chart("F7|%|Bb7|%"))
    assert difficulty_of(reading, 80).level < difficulty_of(reading, 250).level == 7


def test_four_chords_in_a_bar() -> None:
    found = difficulty_of(analyse(chart("Cmaj7 Am7 Dm7 G7|Cmaj7")))
    assert found.bars[0].level == 6
    assert found.bars[0].reasons == ("4 chords in the bar",)


def test_silent_bars_are_never_the_hardest() -> None:
    silent = difficulty_of(analyse(chart("N.C.|N.C.")), tempo_bpm=80)
    assert (silent.level, silent.hardest) == (1, ())
    part = difficulty_of(analyse(chart("N.C.|Dm7 G7|N.C.|Cmaj7 N.C.")), tempo_bpm=80)
    assert [bar.bar for bar in part.hardest] == [2]
