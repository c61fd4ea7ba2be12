import os
from pathlib import Path

import pytest

from changewright.chart.load import load_chart
from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.unroll import unroll
from changewright.errors import ChartError, InputError
from changewright.theory.instrument import instrument, instruments
from changewright.usecases.chart_files import WRITERS, chart_document, chart_for, write_chart_file

HEAVE = """title: Heave
key: F
| F6 | Gm7 C7 |
melody | - C5:1/2 A4 F4:2 | ~:1 G4:1/3 A4 Bb4 C5:2 |
"""


def _melody(chart) -> list[int]:
    return [note.pitch.midi for note in unroll(chart).melody.notes]


@pytest.mark.parametrize("ending", WRITERS)
@pytest.mark.parametrize("name", ["quayside-blues", "harbourmasters-round"])
def test_every_ending_keeps_the_changes(tmp_path: Path, name: str, ending: str) -> None:
    path = tmp_path / f"chart{ending.upper()}"
    write_chart_file(shelf_chart(name), path)
    again = unroll(load_chart(path))
    assert [c.chord for c in again.changes] == [c.chord for c in unroll(shelf_chart(name)).changes]
    assert os.listdir(tmp_path) == [path.name]


@pytest.mark.parametrize("ending", WRITERS)
def test_the_melody_comes_along(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"heave{ending}"
    write_chart_file(read_chart(HEAVE), path)
    assert _melody(load_chart(path)) == [72, 69, 65, 67, 69, 70, 72]


@pytest.mark.parametrize("player", sorted(instruments()))
def test_a_part_sounds_as_the_chart_does(player: str) -> None:
    reader, chart = instrument(player), read_chart(HEAVE)
    part = chart_for(chart, reader)
    up = reader.written_up.semitones
    assert [m - up for m in _melody(part)] == _melody(chart)
    assert part.title == f"Heave, for {reader.name}"
    assert part.key is not None
    assert abs(part.key.signature) <= 6
    roots = [c.chord.root.pc for c in unroll(part).changes]
    assert roots == [(c.chord.root.pc + up) % 12 for c in unroll(chart).changes]


def test_concert_e_is_read_in_d_flat_on_the_alto() -> None:
    """Source: domain reference 2.6."""
    chart = read_chart("key: E\n| E6 | B7 |")
    part = chart_for(chart, instrument("alto saxophone"))
    assert [c.text for c in unroll(part).changes] == ["Db6", "Ab7"]


def test_a_part_of_a_chart_without_a_key_is_refused() -> None:
    keyless = read_chart("| C7 |")
    assert chart_for(keyless, instrument("flute")).bars == keyless.bars
    with pytest.raises(ChartError, match="names no key"):
        chart_for(keyless, instrument("trumpet"))


def test_an_unknown_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="mxl"):
        write_chart_file(read_chart(HEAVE), tmp_path / "heave.pdf")
    with pytest.raises(InputError, match="without an ending"):
        write_chart_file(read_chart(HEAVE), tmp_path / "heave")
    assert not os.listdir(tmp_path)


def test_a_chart_is_never_written_over_itself(tmp_path: Path) -> None:
    path = tmp_path / "heave.txt"
    path.write_text("# mine\n" + HEAVE)
    with pytest.raises(InputError, match="comments would be lost"):
        write_chart_file(load_chart(path), path, str(path))
    assert path.read_text().startswith("# mine")


def test_a_folder_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "heave.txt").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        write_chart_file(read_chart(HEAVE), tmp_path / "heave.txt")


def test_a_chart_at_a_glance() -> None:
    found = chart_document(read_chart(HEAVE))
    assert (found["title"], found["key"], found["bars_played"], found["melody_notes"]) == (
        "Heave", "F", 2, 7,
    )  # fmt: skip
    assert read_chart(found["text"]) == read_chart(HEAVE)


@pytest.mark.parametrize("name", shelf())
def test_every_chart_of_the_shelf_has_a_glance(name: str) -> None:
    assert chart_document(shelf_chart(name))["bars_played"] >= 2
