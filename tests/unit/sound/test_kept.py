from dataclasses import replace
from pathlib import Path

import pytest

from changewright.errors import UnknownName
from changewright.sound.files import write_stems
from changewright.sound.kept import digest_of, kept_stems
from changewright.sound.stems import render
from tests.unit.sound.material import quartet


def test_a_performance_is_sounded_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = kept_stems(quartet(), tmp_path)
    monkeypatch.setattr("changewright.sound.kept.stream_stems", None)
    assert kept_stems(quartet(), tmp_path) == first
    assert [p.name for p in first][-1] == "mix.flac"


def test_what_is_kept_is_what_would_be_written(tmp_path: Path) -> None:
    kept = kept_stems(quartet(), tmp_path / "shelf")
    fresh = write_stems(render(quartet()), tmp_path / "fresh")
    assert [p.read_bytes() for p in kept] == [p.read_bytes() for p in fresh]


def test_a_missing_file_is_made_again(tmp_path: Path) -> None:
    first = kept_stems(quartet(), tmp_path)
    whole = first[0].read_bytes()
    first[0].unlink()
    assert kept_stems(quartet(), tmp_path)[0].read_bytes() == whole
    assert not list(tmp_path.rglob(".making-*"))


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


def test_nothing_is_left_behind_when_it_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("changewright.sound.kept.stream_stems", fail)
    with pytest.raises(OSError, match="no space"):
        kept_stems(quartet(), tmp_path)
    assert not list(tmp_path.rglob("*.flac"))
    assert not list(tmp_path.rglob(".making-*"))
    with pytest.raises(UnknownName, match="audio format"):
        kept_stems(quartet(), tmp_path, "mp5")
