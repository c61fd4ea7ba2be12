import os
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest

from changewright.errors import StoreError
from changewright.store.blobs import Blobs

YESTERDAY, TOMORROW = datetime(2001, 1, 1, tzinfo=UTC), datetime(2100, 1, 1, tzinfo=UTC)


def test_bytes_lie_under_their_digest(tmp_path: Path) -> None:
    """Oracle: FIPS 180-4's SHA-256 of the empty message and of 'abc'."""
    blobs = Blobs(tmp_path)
    assert blobs.put(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert blobs.put(b"") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert sorted(blobs.digests()) == list(blobs.digests())
    assert [blobs.get(d) for d in blobs.digests()] == [b"abc", b""]


def test_a_damaged_recording_is_told_and_mended_by_putting_it_again(tmp_path: Path) -> None:
    blobs = Blobs(tmp_path)
    digest = blobs.put(b"a take")
    (tmp_path / digest[:2] / digest[2:]).write_bytes(b"a cake")
    with pytest.raises(StoreError, match="damaged"):
        blobs.get(digest)
    assert blobs.put(b"a take") == digest
    assert blobs.get(digest) == b"a take"


def test_tidying_drops_the_old_and_unwanted_only(tmp_path: Path) -> None:
    blobs = Blobs(tmp_path)
    wanted, loose = blobs.put(b"wanted"), blobs.put(b"loose")
    left = tmp_path / wanted[:2] / ".coming-0123"
    left.write_bytes(b"half")
    assert blobs.tidy([wanted], YESTERDAY) == ()
    assert left.exists()
    assert blobs.tidy([wanted], TOMORROW) == (loose,)
    assert not left.exists()
    assert list(blobs.digests()) == [wanted]


def test_dropped_bytes_are_written_over(tmp_path: Path) -> None:
    blobs = Blobs(tmp_path)
    digest = blobs.put(b"a private take")
    place = tmp_path / digest[:2] / digest[2:]
    os.link(place, tmp_path / "another-name-of-the-same-bytes")
    blobs.drop(digest)
    assert (tmp_path / "another-name-of-the-same-bytes").read_bytes() == bytes(14)
    assert not blobs.has(digest)


@pytest.mark.parametrize("digest", ["../../etc/passwd", "", sha256(b"x").hexdigest().upper()])
def test_what_is_no_digest_never_becomes_a_path(tmp_path: Path, digest: str) -> None:
    with pytest.raises(StoreError, match="no digest"):
        Blobs(tmp_path).get(digest)
