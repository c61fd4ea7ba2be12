"""What a lesson's folder holds for other programs, as its reader's software sees it."""

import io
import subprocess
import sys
import xml.etree.ElementTree as ET
from fractions import Fraction
from pathlib import Path

import mido
import music21
import pytest
import verovio
from lxml import etree
from PIL import Image
from pypdf import PdfReader

from changewright.music.notation import notate
from changewright.music.systems import BARS_A_SYSTEM, chunks, sections
from changewright.usecases.lesson_folder import load_assignment
from tests.unit.music.schema import published_schema

EXERCISES = ("1-root-up", "2-reordered", "3-guide-tones")
SVG = "{http://www.w3.org/2000/svg}"
MEI = "{http://www.music-encoding.org/ns/mei}"
COMMAND = [sys.executable, "-c", "from changewright.cli.main import main; main()"]


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [*COMMAND, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)


@pytest.mark.parametrize("number", [1, 2, 3])
def test_scores_are_valid_and_two_readers_read_what_was_written(
    lesson_folder: Path, tmp_path: Path, number: int
) -> None:
    text = (lesson_folder / f"{EXERCISES[number - 1]}.musicxml").read_text("utf-8")
    published_schema(tmp_path).assertValid(etree.fromstring(text.encode()))
    sheet = load_assignment(lesson_folder, number).sheet
    notation = notate(sheet, folded=False)
    marks = [m for bar in notation.bars for m in bar.marks if m.pitch is not None]
    figures = [str(m.figure) for m in marks if m.figure is not None]
    rows = [row for part in sections(notation.bars) for row in chunks(part, BARS_A_SYSTEM)]
    breaks = [row[0].bar.number for row in rows[1:]]

    part = music21.converter.parse(text, format="musicxml").parts[0]
    roots = [str(c.chord.root) for b in notation.bars for c in b.chords]
    symbols = part.recurse().getElementsByClass(music21.harmony.ChordSymbol)
    first = [n for n in part.recurse().notes if isinstance(n, music21.note.Note)]
    assert [n.pitch.nameWithOctave.replace("-", "b") for n in first] == [
        str(m.pitch) for m in marks
    ]
    assert [s.root().name.replace("-", "b") for s in symbols] == roots
    assert [n.lyric.replace("♭", "b").replace("♯", "#") for n in first if n.lyric] == figures
    layouts = part.recurse().getElementsByClass(music21.layout.SystemLayout)
    assert [s.measureNumber for s in layouts if s.isNew] == breaks

    reader = verovio.toolkit()
    assert reader.loadData(text)
    second = ET.fromstring(reader.getMEI())
    assert [(n.get("pname"), n.get("oct")) for n in second.iter(f"{MEI}note")] == [
        (m.pitch.name.letter.lower(), str(m.pitch.octave)) for m in marks
    ]
    said = [s.text.replace("♭", "b").replace("♯", "#") for s in second.iter(f"{MEI}syl")]
    assert said == figures
    assert len(list(second.iter(f"{MEI}harm"))) == len(list(symbols))
    assert len(list(second.iter(f"{MEI}sb"))) == len(breaks)


def test_midi_files_play_the_line_with_the_band(lesson_folder: Path) -> None:
    for number, name in enumerate(EXERCISES, start=1):
        midi = mido.MidiFile(lesson_folder / f"{name}.mid")
        sheet = load_assignment(lesson_folder, number).sheet
        notes = [
            [m.note for m in track if m.type == "note_on" and m.velocity] for track in midi.tracks
        ]
        assert midi.type == 1
        assert [n.pitch.midi for n in sheet.line.notes] in notes
        tempo = next(m for m in midi.tracks[0] if m.type == "set_tempo")
        assert round(mido.tempo2bpm(tempo.tempo)) == sheet.tempo_bpm


def test_one_exercise_comes_as_a_drawing_and_as_a_picture(
    lesson_folder: Path, tmp_path: Path
) -> None:
    drawing, picture = tmp_path / "two.svg", tmp_path / "two.png"
    for path in (drawing, picture):
        ran = run("picture", lesson_folder, "-n", 2, "-o", path)
        assert (ran.returncode, ran.stderr) == (0, "")
    root = ET.fromstring(drawing.read_text("utf-8"))
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    sheet = load_assignment(lesson_folder, 2).sheet
    systems = root.findall(f"{SVG}svg")
    heads = [u for u in root.iter(f"{SVG}use") if u.get("class") is None]
    figures = [t for t in root.iter(f"{SVG}text") if t.get("class") == "figure"]
    assert len(systems) >= len(notate(sheet).bars) / BARS_A_SYSTEM
    assert len(figures) == len([n for n in notate(sheet).bars for m in n.marks if m.figure])
    assert len(heads) >= len(figures)
    assert "font/otf;base64" in drawing.read_text("utf-8")
    with Image.open(io.BytesIO(picture.read_bytes())) as seen:
        assert seen.width > 1000
        assert Fraction(seen.width, seen.height) == pytest.approx(width / height, rel=0.35)


def test_a_picture_of_another_kind_is_refused(lesson_folder: Path, tmp_path: Path) -> None:
    ran = run("picture", lesson_folder, "-o", tmp_path / "one.gif")
    assert ran.returncode == 2
    assert "Let its name end in .svg" in ran.stderr
    assert not (tmp_path / "one.gif").exists()
    assert "exercises 1 to 3" in run("picture", lesson_folder, "-n", 9, "-o", "x.png").stderr


@pytest.mark.slow
def test_a_lesson_in_german_from_the_terminal(tmp_path: Path) -> None:
    folder = tmp_path / "lektion"
    ran = run("lesson", "quayside-blues", "--for", "trombone", "--family", "root-up",
              "--language", "de", "-o", folder, "--cache", tmp_path / "kept")  # fmt: skip
    assert (ran.returncode, ran.stderr) == (0, "")
    text = PdfReader(folder / "lesson.pdf").pages[-1].extract_text()
    assert "Mit der ganzen Band spielen." in text
    assert "Play it" not in text
    unknown = run("lesson", "quayside-blues", "--for", "trombone", "--language", "xx")
    assert unknown.returncode == 2
    assert "de, en" in unknown.stderr
