"""Takes of other kinds: MIDI, an open solo, a lesson whose stems are gone."""

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from changewright.cli.main import app
from changewright.usecases.demo import PLANTED, Demo, Planted
from changewright.usecases.hear import hear_solo, hear_take


@pytest.mark.parametrize("number", [1, 2, 3])
def test_the_lessons_own_midi_meets_everything(lesson_folder: Path, number: int) -> None:
    name = next(lesson_folder.glob(f"{number}-*.mid"))
    line = _only_the_line(name)
    try:
        hearing = hear_take(line, lesson_folder, number)
    finally:
        line.unlink()
    assert hearing.judged
    assert hearing.mistakes == ()
    met, sure = hearing.share()
    assert met == sure > 0


def _only_the_line(path: Path) -> Path:
    import mido

    whole = mido.MidiFile(path)
    kept = mido.MidiFile(type=1, ticks_per_beat=whole.ticks_per_beat)
    kept.tracks = [t for t in whole.tracks if t.name in ("line", whole.tracks[0].name)]
    alone = path.with_name(f"alone-{path.name}")
    kept.save(alone)
    return alone


def test_a_take_is_heard_without_the_stems_too(demo: Demo, tmp_path: Path) -> None:
    bare = tmp_path / "bare"
    bare.mkdir()
    shutil.copy(demo.folder / "lesson" / "lesson.json", bare)
    hearing = hear_take(demo.folder / "take.wav", bare, 1)
    named = {Planted(m.bar, m.beat, m.fault) for m in hearing.mistakes}
    # The band is in the room, and without its stems nobody knows what of it is heard: only what is
    # surely the player's is told. Here that is all that was planted, and nothing else.
    assert named == set(PLANTED)


def test_an_open_solo_gets_measures_and_no_verdict(demo: Demo) -> None:
    solo = hear_solo(demo.folder / "take.wav", demo.folder / "lesson", 1)
    tones = solo.measure("J1")
    assert tones is not None
    assert tones.value > 0.9
    assert tones.chance == pytest.approx(0.33, abs=0.03)


def test_hear_prints_documents(demo: Demo) -> None:
    take, lesson = str(demo.folder / "take.wav"), str(demo.folder / "lesson")
    plain = CliRunner().invoke(app, ["hear", take, "--lesson", lesson, "--exercise", "1", "--json"])
    assert json.loads(plain.stdout)["judged"] is True
    solo = CliRunner().invoke(
        app, ["hear", take, "--lesson", lesson, "--exercise", "1", "--solo", "--json"]
    )
    document = json.loads(solo.stdout)
    assert document["measures"]
    assert "total" not in document
