"""A whole band, listened to with numbers: it builds, it ends, it is as loud as it says."""

from functools import cache
from itertools import pairwise

import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

from changewright.band.accompany import accompany
from changewright.band.clocks import clocks_of
from changewright.band.feel import feels
from changewright.band.intro import Intro, intro_before, intro_of
from changewright.band.song import Ending
from changewright.music.performance import Event, Part, Performance
from changewright.sound.bank import BANK_RATE
from changewright.sound.stems import TAIL_S, Stems, render, synthesise
from tests.unit.band.material import BLUES, reading

CHORUSES = 3
EVERY_FEEL = pytest.mark.parametrize("name", sorted(feels()))


def bpm_of(name: str) -> float:
    return sum(feels()[name].tempo) / 2


@cache
def band(name: str, ending: Ending = "stop") -> tuple[Stems, float]:
    """Three choruses behind an intro, and where the first of them begins."""
    intro = intro_of(Intro("last", 2), reading(BLUES))
    bpm, before = bpm_of(name), intro_before(intro, reading(BLUES))
    played = accompany(
        reading(BLUES),
        bpm=bpm,
        feel=name,
        choruses=CHORUSES,
        seed=5,
        level=5,
        intro=intro,
        ending=ending,
    )
    return render(played), clocks_of(name, bpm, before=before).band.to_seconds(before * 0)


def lufs(audio: NDArray[np.float32]) -> float:
    """By pyloudnorm (MIT), another implementation of ITU-R BS.1770 than ours."""
    return float(pyloudnorm.Meter(BANK_RATE).integrated_loudness(audio.astype(np.float64)))


@pytest.mark.slow
@EVERY_FEEL
def test_choruses_build(name: str) -> None:
    """Dynamics follow form, the first chorus softer (domain reference 7.6): each is louder than
    the one before, by little enough that nobody reaches for the volume."""
    stems, top = band(name)
    chorus = 48 * 60 / bpm_of(name)
    edges = [round((top + n * chorus) * BANK_RATE) for n in range(CHORUSES + 1)]
    heard = [lufs(stems.mix[a:b]) for a, b in pairwise(edges)]
    assert all(0.3 < after - before < 2.0 for before, after in pairwise(heard))
    assert 1.2 < heard[-1] - heard[0] < 3.5


@pytest.mark.slow
@EVERY_FEEL
def test_the_mix_is_as_loud_as_it_says(name: str) -> None:
    stems, _ = band(name)
    mix = stems.mix
    assert lufs(mix) == pytest.approx(-18, abs=0.15)
    assert lufs(mix) == pytest.approx(stems.loudness.lufs, abs=0.1)
    dense = np.abs(resample_poly(mix, 8, 1, axis=0)).max()
    assert 20 * np.log10(dense) < -1
    total = np.zeros_like(mix)
    for part in stems:
        total += stems[part]
    assert np.array_equal(total, mix)


@pytest.mark.slow
@EVERY_FEEL
def test_nobody_drowns_the_others(name: str) -> None:
    """Bass, chords and drums lie within 8 LU of each other, and a click counts softer than the
    band plays. Source: common practice, no source."""
    stems, _ = band(name)
    heard = {part: lufs(stems[part]) for part in stems}
    players = [heard[part] for part in ("bass", "comping", "drums")]
    assert max(players) - min(players) < 8
    assert heard["count-in"] < -24


@pytest.mark.slow
@EVERY_FEEL
@pytest.mark.parametrize("ending", ["stop", "held"])
def test_the_end_rings_out(name: str, ending: Ending) -> None:
    """Nothing is cut: the last hundredth of a second of every stem is 60 dB under full scale."""
    stems, _ = band(name, ending)
    for part in stems:
        assert np.abs(stems[part][-BANK_RATE // 100 :]).max() < 1e-3


@pytest.mark.slow
@EVERY_FEEL
def test_it_starts_no_louder_than_it_goes_on(name: str) -> None:
    """The count's clicks, which come first, stay under the band's own peaks."""
    stems, top = band(name)
    mix = np.abs(stems.mix)
    assert mix[: round(top / 2 * BANK_RATE)].max() < mix.max()
    assert np.abs(stems["count-in"]).max() < 0.7 * mix.max()


@pytest.mark.parametrize("program", [66, 73, 71, 56, 57, 40, 26, 11, 52])
def test_every_melody_voice_answers_to_dynamics(program: int) -> None:
    """Saxophone, flute, clarinet, trumpet, trombone, violin, guitar, vibraphone, voice: the same
    note played louder is louder in the stem, so that accents and contour are heard."""
    events = tuple(Event(0.2 + n, 0.6, 65, v) for n, v in enumerate((54, 70, 86, 102)))
    sound = synthesise(Performance((Part("line", program, events),), 4.5))["line"][:, 0]
    rows = [sound[round((0.25 + n) * BANK_RATE) :][: BANK_RATE // 2] for n in range(4)]
    levels = [10 * np.log10(np.square(row, dtype=np.float64).mean()) for row in rows]
    assert all(1.5 < after - before < 8 for before, after in pairwise(levels))


def test_a_cymbal_that_rings_on_is_faded_out() -> None:
    crash = Event(1.0, 1.0, 49, 120)
    part = Part("drums", 32, (crash,), is_drums=True)
    sound = render(Performance((part,), 1.0))["drums"][:, 0]
    assert len(sound) == round((1.0 + TAIL_S) * BANK_RATE)
    rows = np.abs(sound[: len(sound) // 4_800 * 4_800]).reshape(-1, 4_800).max(axis=1)
    assert rows[-1] < 0.05 * rows[-12]  # over its last second
    assert np.abs(np.diff(sound[-4_800:])).max() < 0.01
    assert abs(sound[-1]) < 1e-4
