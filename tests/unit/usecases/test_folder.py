from pathlib import Path

import pytest

from changewright.errors import InputError
from changewright.usecases.folder import MANIFEST, whole_folder


def _fill(folder: Path, text: str) -> None:
    (folder / MANIFEST).write_text(text)


def _break_off(target: Path, text: str) -> None:
    with whole_folder(target) as making:
        _fill(making, text)
        raise KeyError(text)


def test_a_folder_appears_whole(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "lesson"
    with whole_folder(target) as making:
        _fill(making, "new")
        assert not target.exists()
    assert (target / MANIFEST).read_text() == "new"
    assert [p.name for p in target.parent.iterdir()] == ["lesson"]


def test_an_error_half_way_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(KeyError):
        _break_off(tmp_path / "lesson", "half")
    assert list(tmp_path.iterdir()) == []


def test_an_error_half_way_keeps_the_old_lesson(tmp_path: Path) -> None:
    target = tmp_path / "lesson"
    with whole_folder(target) as making:
        _fill(making, "old")
    with pytest.raises(KeyError):
        _break_off(target, "new")
    assert (target / MANIFEST).read_text() == "old"


def test_an_older_lesson_is_replaced_whole(tmp_path: Path) -> None:
    target = tmp_path / "lesson"
    with whole_folder(target) as making:
        _fill(making, "old")
        (making / "gone.txt").write_text("x")
    with whole_folder(target) as making:
        _fill(making, "new")
    assert [p.name for p in target.iterdir()] == [MANIFEST]
    assert [p.name for p in tmp_path.iterdir()] == ["lesson"]


def test_someone_elses_folder_is_refused(tmp_path: Path) -> None:
    target = tmp_path / "holiday"
    target.mkdir()
    (target / "photo.jpg").write_text("x")
    with pytest.raises(InputError, match="not made by this command"), whole_folder(target):
        pass
    assert (target / "photo.jpg").exists()


def test_a_file_in_the_way_is_refused(tmp_path: Path) -> None:
    target = tmp_path / "lesson"
    target.write_text("x")
    with pytest.raises(InputError, match="--output"), whole_folder(target):
        pass
