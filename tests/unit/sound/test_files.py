from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
import soundfile

from changewright.errors import UnknownName
from changewright.sound.files import stream_stems, write_stems, write_take
from changewright.sound.stems import render
from tests.unit.sound.material import first_heard, quartet


def digests(paths: tuple[Path, ...]) -> list[str]:
    return [sha256(path.read_bytes()).hexdigest() for path in paths]


@pytest.mark.parametrize("format", ["flac", "wav"])
def test_two_runs_write_the_same_bytes(tmp_path: Path, format: str) -> None:
    one = write_stems(render(quartet()), tmp_path / "one", format)
    other = write_stems(render(quartet()), tmp_path / "other", format)
    assert [p.name for p in one] == [
        f"{n}.{format}" for n in ("bass", "comping", "drums", "line", "mix")
    ]
    assert digests(one) == digests(other)


@pytest.mark.parametrize("format", ["flac", "wav"])
def test_the_mix_on_disk_is_the_sum_of_the_stems_on_disk(tmp_path: Path, format: str) -> None:
    *stems, mix = write_stems(render(quartet()), tmp_path, format)
    total = sum(soundfile.read(path, dtype="int16")[0].astype(np.int32) for path in stems)
    assert np.array_equal(total, soundfile.read(mix, dtype="int16")[0])


def test_ogg_decodes_in_place(tmp_path: Path) -> None:
    """Long files too: a second at a time, or libsndfile crashes."""
    whole = quartet(130.0)
    stems = render(replace(whole, parts=whole.parts[:1]))
    paths = write_stems(stems, tmp_path, "ogg")
    audio, rate = soundfile.read(paths[0], dtype="float32")
    assert rate == 48_000
    assert len(audio) == stems.frames
    frame = 24_000 * 7
    apart = first_heard(audio[:, 0], frame - 400, frame + 3_000) - first_heard(
        stems["bass"][:, 0], frame - 400, frame + 3_000
    )
    assert abs(apart) <= 48


def test_an_unknown_format_lists_those_we_write(tmp_path: Path) -> None:
    with pytest.raises(UnknownName, match="flac, wav, ogg"):
        write_stems(render(quartet()), tmp_path, "mp5")
    assert not list(tmp_path.iterdir())


def test_a_take_is_a_wav(tmp_path: Path) -> None:
    stems = render(quartet())
    path = write_take(tmp_path / "take.wav", stems["line"])
    audio, rate = soundfile.read(path, dtype="float32")
    assert rate == 48_000
    assert np.abs(audio - stems["line"]).max() <= 2**-15


def test_a_stream_writes_the_same_bytes_as_stems_in_memory(tmp_path: Path) -> None:
    played = quartet(50.0)  # two and a half blocks
    stems = render(played)
    held = write_stems(stems, tmp_path / "held")
    streamed, heard = stream_stems(played, tmp_path / "streamed")
    assert digests(held) == digests(streamed)
    assert heard.lufs == pytest.approx(stems.loudness.lufs, abs=1e-6)
