"""A take in pieces: whatever the order, whatever comes twice, the whole is what was played."""

import io
import json
import os
from dataclasses import asdict
from pathlib import Path
from secrets import token_hex
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from changewright.errors import TakeError
from changewright.studio.door import Throttle
from changewright.studio.pieces import (
    KEPT_S,
    MOST_PIECE_BYTES,
    MOST_PIECES,
    Pieces,
    Telling,
    clock_words,
)

TOLD = {
    "pieces": 3,
    "rate": 48_000,
    "skip": 0,
    "anchor": "count-in",
    "slip_s": 0.0,
    "lost": 0,
    "tempo": None,
    "key": None,
}


def telling(**other: Any) -> Telling:
    return Telling.read(json.dumps(TOLD | other).encode())


@given(st.permutations(range(5)), st.integers(0, 4))
def test_the_whole_is_what_was_played(
    tmp_path_factory: pytest.TempPathFactory, order: list[int], again: int
) -> None:
    """Decoded by soundfile, sample for sample."""
    pieces, take = Pieces(tmp_path_factory.mktemp("pieces")), token_hex(16)
    played = np.arange(4_500, dtype="<i2")
    parts = [played[n : n + 1000].tobytes() for n in range(0, 4_500, 1000)]
    for n in [*order, again]:
        pieces.put(take, n, parts[n])
    assert pieces.missing(take, 5) == []
    wav = pieces.wav(take, telling(pieces=5, rate=8_000, skip=700))
    sound, rate = soundfile.read(io.BytesIO(wav), dtype="int16")
    assert rate == 8_000
    assert (sound == played[700:]).all()


def test_what_is_missing_is_named(tmp_path: Path) -> None:
    pieces, take = Pieces(tmp_path), token_hex(16)
    assert pieces.missing(take, 3) == [0, 1, 2]
    pieces.put(take, 1, b"\x00\x00")
    assert pieces.missing(take, 3) == [0, 2]
    pieces.drop(take)
    assert pieces.missing(take, 2) == [0, 1]


def test_the_last_piece_sent_counts(tmp_path: Path) -> None:
    pieces, take = Pieces(tmp_path), token_hex(16)
    pieces.put(take, 0, b"\x01\x00")
    assert pieces.put(take, 0, b"\x02\x00").read_bytes() == b"\x02\x00"


@pytest.mark.parametrize(
    ("number", "sound"),
    [
        (0, b""),
        (0, b"\x00"),
        (0, bytes(MOST_PIECE_BYTES + 2)),
        (-1, b"\x00\x00"),
        (MOST_PIECES, b"\x00\x00"),
    ],
)
def test_what_is_no_piece_is_refused(tmp_path: Path, number: int, sound: bytes) -> None:
    with pytest.raises(TakeError):
        Pieces(tmp_path).put(token_hex(16), number, sound)
    assert list(tmp_path.rglob("*.pcm")) == []


def test_a_flood_of_new_takes_is_stemmed(tmp_path: Path) -> None:
    pieces = Pieces(tmp_path, new=Throttle(2, 60.0, now=lambda: 0.0))
    one = token_hex(16)
    for take in (one, token_hex(16), one):
        pieces.put(take, 0, b"\x00\x00")
    with pytest.raises(TakeError, match="more takes begin"):
        pieces.put(token_hex(16), 0, b"\x00\x00")


def test_what_never_became_whole_is_forgotten(tmp_path: Path) -> None:
    pieces, old = Pieces(tmp_path), token_hex(16)
    at = pieces.put(old, 0, b"\x00\x00").parent
    os.utime(at, (0, 0))
    Pieces(tmp_path, now=lambda: KEPT_S - 1).put(token_hex(16), 0, b"\x00\x00")
    assert at.is_dir()
    Pieces(tmp_path, now=lambda: KEPT_S + 1).put(token_hex(16), 0, b"\x00\x00")
    assert not at.exists()


@pytest.mark.parametrize(
    "other",
    [
        {"pieces": 0},
        {"pieces": MOST_PIECES + 1},
        {"pieces": True},
        {"pieces": 1.5},
        {"rate": 3},
        {"skip": -1},
        {"skip": 96_001},
        {"anchor": "hearsay"},
        {"anchor": None},
        {"slip_s": "much"},
        {"slip_s": float("inf")},
        {"slip_s": float("nan")},
        {"lost": -1},
        {"tempo": "fast"},
        {"tempo": 7},
    ],
)
def test_a_telling_of_another_shape_is_refused(other: dict[str, Any]) -> None:
    with pytest.raises(TakeError, match="without what must be known"):
        telling(**other)


@pytest.mark.parametrize("body", [b"", b"[]", b"null", b"{", b"[" * 9_000, b"\xff\xfe"])
def test_what_is_no_telling_is_refused(body: bytes) -> None:
    with pytest.raises(TakeError, match="without what must be known"):
        Telling.read(body)


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({}, ""),
        ({"slip_s": None}, ""),
        ({"slip_s": -0.02}, "slipped by 20 ms"),
        ({"anchor": "none"}, "is not known"),
        ({"anchor": "calibration"}, ""),
    ],
)
def test_the_clock_is_spoken_of_where_it_matters(other: dict[str, Any], words: str) -> None:
    said = clock_words(asdict(telling(**other)))
    assert words in said
    assert bool(said) == bool(words)
    assert clock_words(None) == ""


def test_a_piece_that_comes_twice_at_the_same_moment_is_kept_whole(tmp_path: Path) -> None:
    from concurrent.futures import ThreadPoolExecutor

    pieces, sound = Pieces(tmp_path), bytes(range(256)) * 300
    with ThreadPoolExecutor(8) as many:
        kept = list(many.map(lambda _: pieces.put("t", 0, sound), range(64)))
    assert {path.read_bytes() for path in kept} == {sound}
    assert [path.name for path in pieces.at("t").iterdir()] == ["0000.pcm"]
