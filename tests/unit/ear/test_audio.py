"""What may and what may not be read as a recording. The formats are written by libsndfile, a
general-purpose library, so that the reader isn't checked against itself."""

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from changewright.ear.audio import Audio, load_audio
from changewright.errors import TakeError


def tone(rate: int, seconds: float = 1.0, hertz: float = 440.0) -> np.ndarray:
    return (0.3 * np.sin(2 * np.pi * hertz * np.arange(int(rate * seconds)) / rate)).astype("f4")


def strongest_hz(audio: Audio) -> float:
    spectrum = np.abs(np.fft.rfft(audio.samples * np.hanning(len(audio.samples))))
    return float(np.argmax(spectrum)) * audio.rate / len(audio.samples)


@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 96_000])
def test_every_usual_sample_rate_keeps_pitch_and_length(tmp_path: Path, rate: int) -> None:
    soundfile.write(tmp_path / "take.wav", tone(rate), rate)
    audio = load_audio(tmp_path / "take.wav")
    assert strongest_hz(audio) == pytest.approx(440, abs=1.5)
    assert audio.length_s == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("name", ["take.wav", "take.flac", "take.ogg", "take.mp3"])
def test_every_promised_format_is_read(tmp_path: Path, name: str) -> None:
    soundfile.write(tmp_path / name, tone(44_100), 44_100)
    assert strongest_hz(load_audio(tmp_path / name)) == pytest.approx(440, abs=1.5)


def test_a_long_recording_is_kept_in_half_the_memory_and_sounds_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    soundfile.write(tmp_path / "take.wav", tone(48_000, 3.0), 48_000)
    exact = load_audio(tmp_path / "take.wav")
    monkeypatch.setattr("changewright.ear.audio.LONG_S", 1.5)
    long = load_audio(tmp_path / "take.wav")
    assert long.kept.nbytes == exact.kept.nbytes / 2
    assert long.samples == pytest.approx(exact.samples, rel=2**-11, abs=1e-7)
    assert np.array_equal(np.concatenate(list(long.blocks())), long.samples)
    assert np.array_equal(long.between(70_000, 80_000), long.samples[70_000:])
    assert long.peak == pytest.approx(exact.peak, rel=2**-11)


def test_halving_the_rate_lets_nothing_fold_down(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "high.wav", tone(48_000, hertz=15_000), 48_000, subtype="FLOAT")
    within = load_audio(tmp_path / "high.wav").samples[2_000:-2_000]  # its edges are clicks
    assert np.abs(within).max() < 0.3 * 10 ** (-50 / 20)


def test_stereo_that_cancels_itself_is_heard_from_one_side(tmp_path: Path) -> None:
    one = tone(44_100)
    soundfile.write(tmp_path / "wide.wav", np.stack([one, -one], axis=1), 44_100)
    assert np.abs(load_audio(tmp_path / "wide.wav").samples).max() > 0.2


def test_a_renamed_file_is_read_by_what_it_is(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "take.flac", tone(44_100), 44_100)
    (tmp_path / "take.flac").rename(tmp_path / "take.wav")
    assert load_audio(tmp_path / "take.wav").length_s == pytest.approx(1.0, abs=1e-3)


def test_a_take_cut_off_in_the_middle_keeps_what_is_there(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "take.wav", tone(44_100, 2.0), 44_100)
    whole = (tmp_path / "take.wav").read_bytes()
    (tmp_path / "take.wav").write_bytes(whole[: len(whole) // 2])
    assert load_audio(tmp_path / "take.wav").length_s == pytest.approx(1.0, abs=0.01)


def wav_header(frames: int, rate: int = 44_100, channels: int = 1) -> bytes:
    size = frames * channels * 2
    return (
        b"RIFF"
        + struct.pack("<I", (36 + size) & 0xFFFFFFFF)
        + b"WAVEfmt "
        + struct.pack("<IHHII", 16, 1, channels, rate, rate * channels * 2 & 0xFFFFFFFF)
        + struct.pack("<HH", channels * 2, 16)
        + b"data"
        + struct.pack("<I", size & 0xFFFFFFFF)
    )


def test_a_header_that_promises_hours_is_not_believed(tmp_path: Path) -> None:
    body = (tone(44_100) * 32767).astype("<i2").tobytes()
    (tmp_path / "liar.wav").write_bytes(wav_header(2_000_000_000) + body)
    assert load_audio(tmp_path / "liar.wav").length_s == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "not a recording"),
        (b"just some words, no sound", "not a recording"),
        (b"RIFF\x00\x00\x00\x00WAVE", "not a recording"),
        (wav_header(0), "length zero"),
        (wav_header(100, channels=200) + bytes(40_000), "200 channels|not a recording"),
        (wav_header(100, rate=1) + bytes(200), "sample rate is 1 Hz"),
        (wav_header(100, rate=4_000_000_000) + bytes(200), "sample rate|not a recording"),
        (wav_header(44_100) + bytes(88_200), "silent"),
        (bytes(range(256)) * 40, "not a recording"),
        (b"ID3\x04\x00\x00\x7f\x7f\x7f\x7f" + bytes(100), "not a recording|length zero"),
    ],
)
def test_what_is_no_take_is_refused_in_words(tmp_path: Path, content: bytes, words: str) -> None:
    file = tmp_path / "take.wav"
    file.write_bytes(content)
    with pytest.raises(TakeError, match=words) as caught:
        load_audio(file)
    assert str(file) in str(caught.value)
    assert caught.value.remedy


def test_samples_that_are_no_numbers_are_refused_with_their_place(tmp_path: Path) -> None:
    broken = tone(8_000, 2.0)
    broken[12_000] = np.nan
    soundfile.write(tmp_path / "nan.wav", broken, 8_000, subtype="FLOAT")
    with pytest.raises(TakeError, match=r"stop being numbers at 1\.50 s"):
        load_audio(tmp_path / "nan.wav")


def test_a_take_of_two_hundred_minutes_is_refused(tmp_path: Path) -> None:
    with soundfile.SoundFile(tmp_path / "long.flac", "w", 8_000, 1) as file:
        minute = np.zeros(60 * 8_000, dtype="f4")
        minute[::100] = 0.1
        for _ in range(200):
            file.write(minute)
    with pytest.raises(TakeError, match="longer than 65 minutes"):
        load_audio(tmp_path / "long.flac")


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    for path in (tmp_path / "none.wav", tmp_path):
        with pytest.raises(TakeError, match="no such file"):
            load_audio(path)


@pytest.mark.parametrize(
    ("samples", "rate"),
    [
        (np.array([0.0, np.nan], dtype="f4"), 8_000),
        (np.zeros((2, 2), dtype="f4"), 8_000),
        (np.zeros(2), 8_000),
        (np.zeros(2, dtype="f4"), 4_000),
    ],
)
def test_no_audio_can_be_built_of_what_is_none(samples: np.ndarray, rate: int) -> None:
    with pytest.raises(ValueError, match=r"one channel|sample rate|finite"):
        Audio(samples, rate)


def test_audio_is_equal_by_value() -> None:
    assert Audio(tone(8_000), 8_000) == Audio(tone(8_000), 8_000)
    assert Audio(tone(8_000), 8_000) != Audio(tone(8_000), 16_000)
