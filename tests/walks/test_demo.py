"""The whole way through the house: a chart in, a lesson out, a take heard."""

import itertools
import json
from fractions import Fraction
from hashlib import sha256
from io import BytesIO
from pathlib import Path

import mido
import numpy as np
import pypdf
import pytest
import soundfile

from changewright.music.document import sheet_from
from changewright.usecases.demo import MARKER, PLANTED, Demo
from changewright.usecases.folder import MANIFEST
from changewright.usecases.lesson import plan_lesson
from changewright.usecases.lesson_folder import load_assignment, load_manifest, write_lesson

EXERCISES = ("1-root-up", "2-reordered", "3-guide-tones")


def test_the_verdict_names_exactly_the_planted_mistakes(demo: Demo) -> None:
    assert set(demo.named) == set(PLANTED)


def test_the_folder_holds_what_was_promised(demo: Demo, lesson_folder: Path) -> None:
    assert (demo.folder / MARKER).is_file()
    for name in EXERCISES:
        assert (lesson_folder / f"{name}.musicxml").is_file()
        assert (lesson_folder / f"{name}.mid").is_file()
        stems = {path.stem for path in (lesson_folder / name).iterdir()}
        assert stems == {"count-in", "bass", "comping", "drums", "line", "mix"}


def test_the_manifest_accounts_for_every_file(lesson_folder: Path) -> None:
    manifest = load_manifest(lesson_folder)
    files = {
        path.relative_to(lesson_folder).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in lesson_folder.rglob("*")
        if path.is_file() and path.name != MANIFEST
    }
    assert manifest["files"] == files
    assert [e["sheet"]["recipe"]["seed"] for e in manifest["exercises"]] == [7, 7, 7]


def test_the_manifest_gives_back_the_sheets(demo: Demo, lesson_folder: Path) -> None:
    for document, exercise in zip(
        load_manifest(lesson_folder)["exercises"], demo.lesson.exercises, strict=True
    ):
        assert sheet_from(document["sheet"]) == exercise.sheet
        assert exercise.sheet.promises


def test_the_same_request_gives_the_same_bytes(demo: Demo, tmp_path: Path) -> None:
    again = write_lesson(plan_lesson(demo.lesson.request), tmp_path / "again")
    assert again == demo.manifest


def test_the_pdf_reads_as_the_tenor_player_sees_it(lesson_folder: Path) -> None:
    reader = pypdf.PdfReader(BytesIO((lesson_folder / "lesson.pdf").read_bytes()))
    text = "\n".join(page.extract_text() for page in reader.pages)
    assert "Quayside Blues" in text
    assert "Tenor saxophone, Thursday" in text
    # Source: published transposition tables: concert F blues is a G blues for tenor saxophone.
    assert "written G major" in text
    assert all(symbol in text.replace(" ", "") for symbol in ("G7", "C7", "D7"))


def test_midi_holds_band_and_line_behind_a_count_in(demo: Demo, lesson_folder: Path) -> None:
    file = mido.MidiFile(lesson_folder / "1-root-up.mid")
    sheet = demo.lesson.exercises[0].sheet
    named = {track.name for track in file.tracks}
    assert {"bass", "comping", "drums", "line", "count-in"} <= named
    # Arithmetic: one bar of count-in, twelve of blues in 4/4, and at most one to ring out.
    bar_s = 4 * 60 / sheet.tempo_bpm
    assert 13 * bar_s - 1 < file.length <= 14 * bar_s + 0.01


@pytest.mark.parametrize("name", EXERCISES)
def test_stems_share_one_clock_and_sum_to_the_mix(lesson_folder: Path, name: str) -> None:
    audio = {
        path.stem: soundfile.read(path, dtype="int16")[0].astype(np.int32)
        for path in (lesson_folder / name).iterdir()
    }
    mix = audio.pop("mix")
    assert len({len(stem) for stem in audio.values()}) == 1
    assert np.array_equal(mix, sum(audio.values()))
    assert np.abs(mix).max() < 2**15 - 1


def test_the_line_sounds_where_the_sheet_says(demo: Demo, lesson_folder: Path) -> None:
    """Onsets measured in the audio: energy rises within 40 ms of each note after a rest."""
    assignment = load_assignment(lesson_folder, 1)
    audio, rate = soundfile.read(lesson_folder / "1-root-up" / "line.flac")
    mono = audio.mean(axis=1)
    notes = assignment.sheet.line.notes
    after_rest = [n for a, n in itertools.pairwise(notes) if n.onset > a.end]
    assert after_rest
    for note in (notes[0], *after_rest):
        at = round(assignment.clock.to_seconds(note.onset) * rate)
        before = np.abs(mono[at - rate // 10 : at - rate // 200]).max()
        after = np.abs(mono[at : at + rate // 10]).max()
        assert after > 4 * before


def test_the_count_in_clicks_every_beat_of_one_bar(demo: Demo, lesson_folder: Path) -> None:
    audio, rate = soundfile.read(lesson_folder / "1-root-up" / "count-in.flac")
    clock = load_assignment(lesson_folder, 1).clock
    envelope = np.abs(audio.mean(axis=1))
    for beat in range(4):
        at = round(clock.to_seconds(Fraction(beat - 4)) * rate)
        assert envelope[at : at + rate // 50].max() > 0.02
    first_bar = round(clock.to_seconds(Fraction(0)) * rate) + rate // 4
    assert envelope[first_bar:].max() < 0.001


def test_the_demo_document_says_what_was_planted(demo: Demo) -> None:
    document = json.loads((demo.folder / MARKER).read_text("utf-8"))
    assert len(document["planted"]) == len(PLANTED)
    assert document["hearing"]["judged"] is True
