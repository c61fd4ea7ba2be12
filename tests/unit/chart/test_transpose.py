"""Charts in other keys, spelled as a reader of that key expects them."""

import pytest

from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.transpose import transpose_chart
from changewright.chart.writer import write_chart
from changewright.errors import ChartError
from changewright.theory.key import Key


def moved(text: str, key: str) -> list[str]:
    chart = transpose_chart(read_chart(text), Key.parse(key))
    return [" ".join(chord.text for chord in bar.chords) for bar in chart.bars]


# Source: domain reference 2.6 (six accidentals at most; Db before C#; whole keys are respelled).
@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("Bb", ["Bb7", "Eb9", "F7/Eb"]),
        ("Gb", ["Gb7", "Cb9", "Db7/Cb"]),
        ("F#", ["F#7", "B9", "C#7/B"]),
        ("C#", ["Db7", "Gb9", "Ab7/Gb"]),
        ("Db", ["Db7", "Gb9", "Ab7/Gb"]),
        ("B", ["B7", "E9", "F#7/E"]),
    ],
)
def test_a_blues_in_other_keys(key: str, expected: list[str]) -> None:
    assert moved("key: F\n| F7 | Bb9 | C7/Bb |", key) == expected


def test_the_author_s_manner_of_writing_is_kept() -> None:
    text = "key: C\n| C-7 | FΔ | B♭7♭9 | N.C. | E7#9#5 | (Dm7b5) | D\\C7 |"
    assert moved(text, "D") == ["D-7", "GΔ", "C7♭9", "N.C.", "F#7#9#5", "(Em7b5)", "E|D7"]


def test_no_root_needs_a_double_accidental() -> None:
    assert moved("key: C\n| Db7 | Gb7/Cb | F#m7(b5) |", "Gb") == ["G7", "C7/F", "Cm7(b5)"]
    assert moved("key: C\n| G#°7 | D#7 |", "F#") == ["D°7", "A7"]


def test_a_minor_tune_stays_minor_and_key_areas_move_whole() -> None:
    text = "key: Cm\n| Cm7 <scale G altered> | Ab7 <in Eb> |\nkey E\n| Emaj7 | B7 |"
    chart = transpose_chart(read_chart(text), Key.parse("G#"))
    assert write_chart(chart).splitlines()[6:] == [
        "",
        "| G#m7 <scale D# altered> | E7 <in B> |",
        "key C",
        "| Cmaj7 | G7 |",
    ]


def test_the_melody_goes_the_shorter_way() -> None:
    chart = read_chart("key: C\n| C |\nmelody | C4:2 Bb4 |")
    up = transpose_chart(chart, Key.parse("E"))
    down = transpose_chart(chart, Key.parse("Ab"))
    assert [str(p.pitch) for p in up.bars[0].melody] == ["E4", "D5"]
    assert [str(p.pitch) for p in down.bars[0].melody] == ["Ab3", "Gb4"]


def test_a_note_held_into_another_key_area_keeps_its_spelling() -> None:
    text = "key: C\n| C |\nmelody | E4:4 |\nkey Ab\n| Ab |\nmelody | ~:4 |"
    chart = transpose_chart(read_chart(text), Key.parse("B"))
    assert [str(bar.melody[0].pitch) for bar in chart.bars] == ["D#4", "D#4"]
    assert read_chart(write_chart(chart)) == chart


@pytest.mark.parametrize("name", shelf())
def test_twelve_keys_and_home_again(name: str) -> None:
    chart = shelf_chart(name)
    home = chart.key
    assert home
    for tonic in ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"):
        moved_chart = transpose_chart(chart, Key.parse(tonic))
        assert moved_chart.key
        assert abs(moved_chart.key.signature) <= 6
        assert moved_chart.key.mode == home.mode
    assert transpose_chart(chart, home) == chart


def test_a_chart_without_a_key_can_t_be_moved() -> None:
    with pytest.raises(ChartError, match="names no key"):
        transpose_chart(read_chart("| F7 |"), Key.parse("C"))
