"""The shelf of stems: the same bytes once sounded, whole or not at all, and never too many."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from changewright.errors import UnknownName
from changewright.music.performance import Performance
from changewright.sound import kept
from changewright.sound.files import stream_stems
from changewright.sound.kept import MOST_KEPT_S, StemShelf, digest_of
from tests.unit.sound.material import quartet


def louder(number: int) -> Performance:
    """Another performance each time."""
    first, *others = quartet().parts
    event = replace(first.events[0], velocity=40 + number)
    return replace(quartet(), parts=(replace(first, events=(event, *first.events[1:])), *others))


def forbid(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*args: object) -> None:
        raise AssertionError("sounded again")

    monkeypatch.setattr(kept, "stream_stems", fail)


def test_a_performance_is_sounded_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = StemShelf(tmp_path / "shelf")
    first, heard = shelf.write(quartet(), tmp_path / "one")
    forbid(monkeypatch)
    again, told = shelf.write(quartet(), tmp_path / "two")
    assert [p.name for p in again] == [p.name for p in first]
    assert [p.read_bytes() for p in again] == [p.read_bytes() for p in first]
    assert told == heard
    assert again[-1].name == "mix.flac"


def test_what_is_kept_is_what_would_be_written(tmp_path: Path) -> None:
    shelf = StemShelf(tmp_path / "shelf")
    shelf.write(quartet(), tmp_path / "one")
    found, heard = shelf.write(quartet(), tmp_path / "two")
    fresh, told = stream_stems(quartet(), tmp_path / "fresh")
    assert [p.read_bytes() for p in found] == [p.read_bytes() for p in fresh]
    assert heard == told


@pytest.mark.parametrize("harm", ["missing", "cut", "changed", "untold", "nonsense"])
def test_what_was_damaged_is_sounded_anew(harm: str, tmp_path: Path) -> None:
    shelf = StemShelf(tmp_path / "shelf")
    first, _ = shelf.write(quartet(), tmp_path / "one")
    [home] = (tmp_path / "shelf").iterdir()
    victim, told = home / first[0].name, home / "stems.json"
    whole = victim.read_bytes()
    match harm:
        case "missing":
            victim.unlink()
        case "cut":
            victim.write_bytes(whole[:-100])
        case "changed":
            victim.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
        case "untold":
            told.unlink()
        case _:
            told.write_text("[]")
    again, _ = shelf.write(quartet(), tmp_path / "two")
    assert again[0].read_bytes() == whole


def test_an_entry_s_names_are_not_believed(tmp_path: Path) -> None:
    """Nobody's file is overwritten by what an entry calls its stems."""
    shelf = StemShelf(tmp_path / "shelf")
    shelf.write(quartet(), tmp_path / "one")
    [home] = (tmp_path / "shelf").iterdir()
    told = (home / "stems.json").read_text()
    (home / "stems.json").write_text(told.replace("mix.flac", "../../mine"))
    shelf.write(quartet(), tmp_path / "two")
    assert not (tmp_path / "mine").exists()
    assert (tmp_path / "two" / "mix.flac").is_file()


def test_the_shelf_stays_small_and_forgets_what_was_asked_for_longest_ago(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    StemShelf(tmp_path / "one").write(louder(0), tmp_path / "out")
    _, each = StemShelf(tmp_path / "one").size
    shelf = StemShelf(tmp_path / "shelf", most_bytes=round(2.5 * each))
    for number in (0, 1):
        shelf.write(louder(number), tmp_path / "out")
        _age(shelf, seconds=100)
    shelf.write(louder(0), tmp_path / "out")  # asked for again, so it stays
    shelf.write(louder(2), tmp_path / "out")
    count, size = shelf.size
    assert count == 2
    assert size <= shelf.most_bytes
    assert shelf.trim() == 0
    forbid(monkeypatch)
    shelf.write(louder(0), tmp_path / "out")
    shelf.write(louder(2), tmp_path / "out")
    with pytest.raises(AssertionError, match="sounded again"):
        shelf.write(louder(1), tmp_path / "out")


def _age(shelf: StemShelf, seconds: float) -> None:
    for told in shelf.folder.glob("*/stems.json"):
        at = told.stat().st_mtime - seconds
        os.utime(told, (at, at))


def test_it_can_be_emptied(tmp_path: Path) -> None:
    shelf = StemShelf(tmp_path / "shelf")
    assert shelf.empty() == 0
    shelf.write(louder(0), tmp_path / "out")
    shelf.write(louder(1), tmp_path / "out", "wav")
    assert shelf.size[0] == 2
    assert shelf.empty() == 2
    assert shelf.size == (0, 0)
    assert not list(shelf.folder.iterdir())


def test_what_a_killed_process_left_is_swept_away(tmp_path: Path) -> None:
    shelf = StemShelf(tmp_path / "shelf")
    old, new = shelf.folder / ".making-old", shelf.folder / ".making-new"
    for folder in (old, new):
        folder.mkdir(parents=True)
        (folder / "bass.flac").write_bytes(b"half")
    os.utime(old, (0, 0))
    shelf.write(quartet(), tmp_path / "out")
    assert not old.exists()
    assert new.exists()  # another process is at work on it


def test_hours_of_music_are_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    called = []
    monkeypatch.setattr(kept, "stream_stems", lambda *args: called.append(args) or ((), None))
    long = replace(quartet(), length_s=MOST_KEPT_S + 1)
    StemShelf(tmp_path / "shelf").write(long, tmp_path / "out")
    assert called == [(long, tmp_path / "out", "flac")]
    assert not (tmp_path / "shelf").exists()


def test_a_full_disk_spoils_only_the_keeping(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(source: Path, target: Path) -> int:
        target.write_bytes(b"half")
        raise OSError("no space left")

    monkeypatch.setattr(kept, "_copy", full)
    shelf = StemShelf(tmp_path / "shelf")
    paths, _ = shelf.write(quartet(), tmp_path / "out")
    assert all(path.is_file() for path in paths)
    assert shelf.size == (0, 0)
    assert not list(shelf.folder.iterdir())


@pytest.mark.slow
def test_processes_at_once_get_the_same_whole_files(tmp_path: Path) -> None:
    """Three at a time, on a shelf so small that each throws away what the others keep."""
    code = (
        "import sys; from pathlib import Path\n"
        "from changewright.sound.kept import StemShelf\n"
        "from tests.unit.sound.test_kept import louder\n"
        "home, who = Path(sys.argv[1]), sys.argv[2]\n"
        "for n in range(6): StemShelf(home / 'shelf', int(sys.argv[3]))"
        ".write(louder(n % 3), home / who / str(n % 3))\n"
    )
    StemShelf(tmp_path / "one").write(louder(0), tmp_path / "right" / "0")
    most = round(1.5 * StemShelf(tmp_path / "one").size[1])
    running = [
        subprocess.Popen([sys.executable, "-c", code, str(tmp_path), str(who), str(most)])
        for who in range(3)
    ]
    assert [one.wait() for one in running] == [0] * 3
    for number in range(3):
        right, _ = stream_stems(louder(number), tmp_path / "right" / str(number))
        for who, path in ((w, p) for w in range(3) for p in right):
            got = tmp_path / str(who) / str(number) / path.name
            assert got.read_bytes() == path.read_bytes()
    assert StemShelf(tmp_path / "shelf", most).size[0] <= 2
    assert not [p for p in (tmp_path / "shelf").iterdir() if p.name.startswith(".")]


def test_every_event_counts_in_the_digest() -> None:
    played = quartet()
    digests = {digest_of(played), digest_of(replace(played, length_s=4.5))}
    for number, part in enumerate(played.parts):
        louder = replace(part.events[0], velocity=part.events[0].velocity + 1)
        changed = replace(part, events=(louder, *part.events[1:]))
        parts = (*played.parts[:number], changed, *played.parts[number + 1 :])
        digests.add(digest_of(replace(played, parts=parts)))
        digests.add(digest_of(replace(played, parts=played.parts[:number])))
    assert len(digests) == 2 + 2 * len(played.parts)
    assert digest_of(quartet()) == digest_of(played)


def test_the_code_and_the_notes_count_in_the_digest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What sounds differently lies elsewhere, without anybody raising a number."""
    found = set()
    for code, note in (("a", "x"), ("b", "x"), ("a", "y")):
        (tmp_path / "bank").mkdir(exist_ok=True)
        (tmp_path / "mix.py").write_text(code)
        (tmp_path / "bank" / "piano.zip").write_text(note)
        kept._sound_digest.cache_clear()
        monkeypatch.setattr(kept, "files", lambda package: tmp_path)
        found.add(digest_of(quartet()))
    kept._sound_digest.cache_clear()
    monkeypatch.undo()
    assert len({*found, digest_of(quartet())}) == 4


def test_an_unknown_format_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    with pytest.raises(UnknownName, match="audio format"):
        StemShelf(tmp_path / "shelf").write(quartet(), tmp_path / "out", "mp5")
    assert not list(tmp_path.iterdir())
