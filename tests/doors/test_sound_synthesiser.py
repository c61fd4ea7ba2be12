"""The note bank against the synthesiser that its notes came from, and the user's own SoundFont.

Skipped where FluidSynth or Debian's SoundFont is missing.
"""

from pathlib import Path
from statistics import fmean

import numpy as np
import pyloudnorm
import pytest
from benchmarks.bench_sound import FONT, apart_db, by_synthesiser, comping_apart, quartet

from changewright.errors import InputError
from changewright.music.performance import Event, Part, Performance
from changewright.sound._fluidsynth import is_installed
from changewright.sound.mix import frame_of
from changewright.sound.soundfont import render_by
from changewright.sound.stems import synthesise
from tests.unit.sound.material import clicks, first_heard
from tests.unit.sound.material import quartet as short

installed = pytest.mark.skipif(
    not (is_installed() and FONT.is_file()), reason="FluidSynth and its SoundFont are not here"
)


@installed
@pytest.mark.slow
def test_the_bank_sounds_as_the_synthesiser_does() -> None:
    """Short-time third-octave levels lie within 2 dB of FluidSynth's on average, comping too."""
    played = quartet()
    ours, theirs = synthesise(played), by_synthesiser(played)
    assert apart_db(ours["bass"], theirs["bass"]) < 1.2
    assert fmean(comping_apart()) < 2
    assert apart_db(ours["line"], theirs["line"]) < 2.1


@installed
def test_a_soundfont_of_one_s_own_plays_the_same_events() -> None:
    stems = render_by(FONT, clicks([0.5, 1.5, 2.5]))
    audio = stems["drums"][:, 0]
    for at in (0.5, 1.5, 2.5):
        frame = frame_of(at)
        assert 0 <= first_heard(audio, frame - 400, frame + 3_000) - frame <= 64 + 200


@installed
def test_a_soundfont_s_stems_are_as_loud_and_the_same_twice() -> None:
    one, other = (render_by(FONT, short()) for _ in range(2))
    assert all(np.array_equal(one[name], other[name]) for name in one)
    heard = pyloudnorm.Meter(48_000).integrated_loudness(one.mix.astype(float))
    assert heard == pytest.approx(-18, abs=0.3)


@installed
def test_a_spoken_count_is_heard_with_a_soundfont_too() -> None:
    words = Part("count-in", 56, (Event(0.5, 0.5, 1, 80), Event(1.0, 0.5, 2, 80)), is_drums=True)
    played = short()
    stems = render_by(FONT, Performance((words, *played.parts), played.length_s))
    for at in (0.5, 1.0):
        assert np.abs(stems["count-in"][frame_of(at) : frame_of(at + 0.1)]).max() > 0.02


@installed
def test_what_is_no_soundfont_is_refused(tmp_path: Path) -> None:
    wrong = tmp_path / "notes.sf2"
    with pytest.raises(InputError, match="no SoundFont at"):
        render_by(wrong, short())
    wrong.write_bytes(b"not a soundfont")
    with pytest.raises(InputError, match="not a SoundFont"):
        render_by(wrong, short())


def test_without_the_library_the_error_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("changewright.sound._fluidsynth.find_library", lambda name: None)
    (tmp_path / "any.sf2").write_bytes(b"")
    assert not is_installed()
    with pytest.raises(InputError, match="apt install fluidsynth"):
        render_by(tmp_path / "any.sf2", short())
