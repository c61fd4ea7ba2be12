"""Recordings of telephones and browsers: AAC, Apple Lossless and Opus in MP4 and WebM boxes.

The files are written by FFmpeg's libraries, general-purpose ones; the boxes' signatures are those
of ISO/IEC 14496-12 and RFC 8794.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

from changewright.ear.audio import load_audio
from changewright.errors import TakeError
from tests.unit.ear.test_audio import strongest_hz, tone

av = pytest.importorskip("av")

KINDS = [
    ("take.m4a", "ipod", "aac", 44_100),
    ("take.mp4", "mp4", "alac", 48_000),
    ("take.webm", "webm", "libopus", 48_000),
]


def recorded(path: Path, box: str, codec: str, rate: int, seconds: float = 2.0) -> Path:
    out = av.open(str(path), "w", format=box)
    stream = out.add_stream(codec, rate=rate)
    stream.layout = "mono"
    resampler = av.AudioResampler(stream.format.name, "mono", rate)
    frame = av.AudioFrame.from_ndarray(tone(rate, seconds)[None], format="fltp", layout="mono")
    frame.sample_rate = rate
    for one in (*resampler.resample(frame), *resampler.resample(None)):
        size = stream.codec_context.frame_size or one.samples
        fifo = av.AudioFifo()
        fifo.write(one)
        while piece := fifo.read(size, partial=True):
            out.mux(stream.encode(piece))
    out.mux(stream.encode(None))
    out.close()
    return path


def heard_or_refused(path: Path) -> bool:
    try:
        return len(load_audio(path).samples) > 0
    except TakeError as fault:
        return path.name in str(fault)


@pytest.mark.parametrize(("name", "box", "codec", "rate"), KINDS)
def test_telephone_recordings_keep_pitch_and_length(
    tmp_path: Path, name: str, box: str, codec: str, rate: int
) -> None:
    audio = load_audio(recorded(tmp_path / name, box, codec, rate))
    assert strongest_hz(audio) == pytest.approx(440, abs=1.5)
    assert audio.length_s == pytest.approx(2.0, abs=0.06)  # an encoder fills its last frame


def test_a_renamed_telephone_recording_is_read_by_what_it_is(tmp_path: Path) -> None:
    recorded(tmp_path / "take.m4a", "ipod", "aac", 44_100).rename(tmp_path / "take.wav")
    assert load_audio(tmp_path / "take.wav").length_s == pytest.approx(2.0, abs=0.06)


@pytest.mark.parametrize(("name", "box", "codec", "rate"), KINDS)
def test_a_damaged_telephone_recording_is_refused_or_read_in_part(
    tmp_path: Path, name: str, box: str, codec: str, rate: int
) -> None:
    whole = recorded(tmp_path / name, box, codec, rate).read_bytes()
    dice = np.random.default_rng(3)
    damaged = tmp_path / f"damaged-{name}"
    for round_ in range(60):
        bytes_ = bytearray(whole)
        if round_ % 2:
            del bytes_[int(dice.integers(len(bytes_))) :]
        for at in dice.integers(0, len(bytes_) or 1, 8 if bytes_ else 0):
            bytes_[int(at)] = int(dice.integers(256))
        damaged.write_bytes(bytes_)
        assert heard_or_refused(damaged)


def test_without_the_extra_the_refusal_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    take = recorded(tmp_path / "take.m4a", "ipod", "aac", 44_100)
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(TakeError, match=r"changewright\[phone\]"):
        load_audio(take)


def test_a_box_without_sound_is_refused(tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    out = av.open(str(film), "w", format="mp4")
    stream = out.add_stream("mpeg4", rate=10)
    stream.width = stream.height = 32
    stream.pix_fmt = "yuv420p"
    picture = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")
    out.mux(stream.encode(picture))
    out.mux(stream.encode(None))
    out.close()
    with pytest.raises(TakeError, match="no sound"):
        load_audio(film)
