import os

import pytest

from changewright.errors import InputError
from changewright.jobs.kept import Kept, usual_folder

KEY, OTHER = "ab" + "0" * 62, "cd" + "1" * 62


def test_parts_come_back(tmp_path):
    kept = Kept(tmp_path)
    assert not kept.has(KEY)
    kept.put(KEY, {"page": b"first\n", "empty": b"", "notes": bytes(range(256))})
    assert kept.has(KEY)
    assert kept.read(KEY, "page") == b"first\n"
    assert kept.read(KEY, "empty") == b""
    assert kept.read(KEY, "notes") == bytes(range(256))


def test_a_result_cut_short_is_not_there(tmp_path):
    kept = Kept(tmp_path)
    kept.put(KEY, {"page": b"a whole page"})
    path = tmp_path / "ab" / KEY[2:]
    path.write_bytes(path.read_bytes()[:-1])
    assert not kept.has(KEY)
    path.write_bytes(b"not JSON\n")
    assert not kept.has(KEY)


def test_a_damaged_result_is_thrown_away_and_told(tmp_path):
    kept = Kept(tmp_path)
    kept.put(KEY, {"page": b"a whole page"})
    path = tmp_path / "ab" / KEY[2:]
    path.write_bytes(path.read_bytes().replace(b"whole", b"other"))
    with pytest.raises(InputError, match="damaged"):
        kept.read(KEY, "page")
    assert not kept.has(KEY)


def test_the_oldest_go_first(tmp_path):
    kept = Kept(tmp_path)
    kept.put(KEY, {"page": bytes(1000)})
    kept.put(OTHER, {"page": bytes(1000)})
    os.utime(tmp_path / "cd" / OTHER[2:], ns=(1, 1))
    assert kept.trim(1500, spare=[OTHER]) == 1
    assert kept.has(OTHER)
    assert not kept.has(KEY)
    assert kept.trim(10_000) == 0


def test_the_usual_folder_is_the_platforms_own():
    # XDG Base Directory Specification 0.8: user-specific non-essential data.
    assert usual_folder({"CHANGEWRIGHT_CACHE": "/own"}, "darwin").as_posix() == "/own"
    assert usual_folder({"XDG_CACHE_HOME": "/caches"}, "linux").as_posix() == "/caches/changewright"
    assert usual_folder({}, "linux").as_posix().endswith("/.cache/changewright")
    assert usual_folder({}, "darwin").as_posix().endswith("/Library/Caches/changewright")
    assert usual_folder({"LOCALAPPDATA": "/c/local"}, "win32").as_posix() == "/c/local/changewright"
