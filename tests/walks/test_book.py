"""A book from its file to the folder, at the terminal: whole, resumed, rebuilt, refused."""

import json
import os
import signal
import subprocess
import sys
import time
from hashlib import sha256
from pathlib import Path
from zipfile import ZipFile

import pytest
import soundfile

from changewright.jobs.kept import Kept
from changewright.jobs.running import Workers
from changewright.usecases.book import Book, make_book
from changewright.usecases.book_file import read_book
from changewright.usecases.book_folder import BOOK_MARKER, proof_text, write_book, write_book_zip

BOOK = """title = "Tides"
author = "Quayside workshop"
keys = ["F", "Db"]
editions = ["C treble", "E-flat", "C bass"]
include = ["musicxml", "midi"]

[[exercises]]
charts = ["quayside-blues"]
levels = [2]
families = ["guide-tones", "targets"]
"""
COMMAND = [sys.executable, "-c", "from changewright.cli.main import main; main()", "book"]


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("book") / "tides.toml"
    path.write_text(BOOK)
    return path


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Kept:
    return Kept(tmp_path_factory.mktemp("kept"))


@pytest.fixture(scope="module")
def book(file: Path, kept: Kept) -> Book:
    with Workers(1) as workers:
        return make_book(read_book(file), kept, workers)


def run(*arguments: object, **more: object) -> subprocess.CompletedProcess[str]:
    command = [*COMMAND, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)


def test_two_processes_write_the_bytes_of_one(file, kept, book, tmp_path):
    write_book(book, kept, tmp_path / "one")
    done = run(file, "-o", tmp_path / "two", "--cache", tmp_path / "cache", "--workers", 2)
    assert done.returncode == 0, done.stderr
    assert hashes(tmp_path / "one") == hashes(tmp_path / "two")
    assert "Tides: 4 exercises on" in done.stdout


def hashes(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_folder_is_tidy_and_its_manifest_true(kept, book, tmp_path):
    manifest = write_book(book, kept, tmp_path / "tides")
    found = hashes(tmp_path / "tides")
    told = json.loads((tmp_path / "tides" / BOOK_MARKER).read_text("utf-8"))
    assert told == manifest
    assert {**told["files"]} == {k: v for k, v in found.items() if k != BOOK_MARKER}
    assert [e["pdf"] for e in told["editions"]] == [
        "tides-c-treble.pdf", "tides-e-flat.pdf", "tides-c-bass.pdf",
    ]  # fmt: skip
    first = told["exercises"][0]
    assert first["files"]["musicxml"]["e-flat"] == "musicxml/e-flat/F/001-guide-tones.musicxml"
    assert (first["key"], first["level"], first["page"]) == ("F", 2, 5)
    assert sum(name.endswith(".mid") for name in found) == 4 * 3


def test_the_zip_is_the_same_each_time(kept, book, tmp_path):
    write_book(book, kept, tmp_path / "tides")
    write_book_zip(book, kept, tmp_path / "a.zip")
    write_book_zip(book, kept, tmp_path / "b.zip")
    write_book_zip(book, kept, tmp_path / "b.zip")
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()
    with ZipFile(tmp_path / "a.zip") as archive:
        assert archive.testzip() is None
        inside = {n: sha256(archive.read(n)).hexdigest() for n in archive.namelist()}
    assert inside == hashes(tmp_path / "tides")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.zip", "b.zip", "tides"]


def test_what_is_not_ours_is_left_alone(file, tmp_path):
    (tmp_path / "diary").mkdir()
    (tmp_path / "diary" / "monday.txt").write_text("fog")
    (tmp_path / "photos.zip").write_bytes(b"not a zip of ours")
    cache = ["--cache", tmp_path / "cache", "--workers", 1]
    for target in ("diary", "photos.zip"):
        done = run(file, "-o", tmp_path / target, *cache)
        assert done.returncode == 2
        assert "not made by this command" in done.stderr
    assert (tmp_path / "diary" / "monday.txt").read_text() == "fog"


def test_only_what_changed_is_made_anew(file, kept, book):
    made: list[tuple[str, int]] = []
    before = {p.name for p in kept.folder.glob("??/*")}
    more = file.parent / "more.toml"
    more.write_text(BOOK.replace('["F", "Db"]', '["F", "Db", "C"]'))
    with Workers(1) as workers:
        make_book(read_book(file), kept, workers, progress=lambda *told: made.append(told))
        assert {p.name for p in kept.folder.glob("??/*")} == before
        assert all(done == total for _, done, total in made)
        made.clear()
        make_book(read_book(more), kept, workers, progress=lambda *told: made.append(told))
    composing = [(done, total) for step, done, total in made if step.startswith("Composing")]
    assert composing == [(4, 6), (5, 6), (6, 6)]


def test_one_edition_alone_is_that_of_the_whole(file, kept, book, tmp_path):
    whole = {e.id: kept.read(key, "pdf") for e, key in book.pdfs}
    done = run(
        file, "-o", tmp_path / "one", "--edition", "eb", "--cache", kept.folder, "--workers", 1
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "one" / "tides-e-flat.pdf").read_bytes() == whole["e-flat"]
    assert len(list((tmp_path / "one").glob("*.pdf"))) == 1
    refused = run(file, "-o", tmp_path / "two", "--edition", "clarinet", "--cache", kept.folder)
    assert refused.returncode == 2
    assert "Add 'clarinet' to its editions" in refused.stderr


def test_a_fault_names_the_line_and_leaves_nothing(tmp_path):
    path = tmp_path / "faulty.toml"
    path.write_text(BOOK.replace('"targets"', '"two-five-one"').replace("[2]", "[4]"))
    done = run(path, "-o", tmp_path / "out", "--cache", tmp_path / "cache", "--workers", 1)
    assert done.returncode == 2
    assert f"{path}, line 7: two-five-one at level 4 over Quayside Blues in F" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_unknown_rights_are_told_on_the_terminal_and_in_the_book(tmp_path):
    (tmp_path / "rope.txt").write_text("title: Rope\nkey: C\n\nsection A\n| C | G7 | C | G7 |\n")
    path = tmp_path / "rope.toml"
    path.write_text(
        BOOK.replace("quayside-blues", "rope.txt")
        .replace('["F", "Db"]', '["F"]')
        .replace('"C treble", "E-flat", "C bass"', '"flute"')
    )
    done = run(path, "-o", tmp_path / "out", "--cache", tmp_path / "cache", "--workers", 1)
    assert done.returncode == 0
    assert "warning: nobody knows who owns 'Rope'" in done.stderr
    assert "Warning: nobody knows" in (tmp_path / "out" / "proof.txt").read_text()
    assert json.loads((tmp_path / "out" / BOOK_MARKER).read_text())["warnings"]


def test_the_proof_list_names_page_and_number(book):
    told = proof_text(book)
    assert "E-flat edition" in told
    assert "page 5, no. 1, guide-tones in F:" in told
    assert "octave" in told or "a line of its own" in told


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX systems")
def test_a_stop_is_told_and_what_was_finished_is_kept(tmp_path):
    path = tmp_path / "long.toml"
    path.write_text(BOOK.replace('["F", "Db"]', '"fourths"'))
    cache = tmp_path / "cache"
    command = [*COMMAND, path, "-o", tmp_path / "out", "--cache", cache, "--workers", "2"]
    working = subprocess.Popen(
        [str(c) for c in command],
        stderr=subprocess.PIPE,
        text=True,
        # A suite that runs in the background may have been started deaf to this signal.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    deadline = time.monotonic() + 120
    while len(list(cache.glob("??/*"))) < 3 and time.monotonic() < deadline:
        time.sleep(0.02)
    working.send_signal(signal.SIGINT)
    _, said = working.communicate(timeout=60)
    assert working.returncode == 130
    assert "stopped; nothing was left half-written" in said
    assert not (tmp_path / "out").exists()
    kept = Kept(cache)
    keys = {p.parent.name + p.name for p in cache.glob("??/*") if not p.name.startswith(".")}
    assert 3 <= len(keys) < 24
    assert all(kept.has(key) for key in keys)
    first = [0]
    with Workers(1) as workers:
        make_book(
            read_book(path),
            kept,
            workers,
            progress=lambda step, done, total: first.append(done) if len(first) == 1 else None,
        )
    assert first[1] == len(keys)


def test_the_band_plays_once_for_all_exercises_that_it_fits(file, tmp_path):
    path = tmp_path / "heard.toml"
    path.write_text(BOOK.replace('"musicxml", "midi"', '"audio"').replace('["F", "Db"]', '["F"]'))
    done = run(path, "-o", tmp_path / "out", "--cache", tmp_path / "cache", "--workers", 1)
    assert done.returncode == 0, done.stderr
    manifest = json.loads((tmp_path / "out" / BOOK_MARKER).read_text("utf-8"))
    tracks = {one["track"] for one in manifest["exercises"]}
    assert len(tracks) == 1
    (track,) = tracks
    assert track.startswith("audio/F/quayside-blues-")
    told = soundfile.info(tmp_path / "out" / track)
    # One chorus of twelve bars and a bar of count-in, in quarters at the track's tempo.
    tempo = int(track.removesuffix(".flac").rpartition("-")[2])
    assert told.duration > 13 * 4 * 60 / tempo - 0.5
    assert not (tmp_path / "out" / "midi").exists()
