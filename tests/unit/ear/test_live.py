"""A take heard while it is recorded is the take heard afterwards."""

import numpy as np
import pytest

from changewright.ear.audio import Audio
from changewright.ear.fakes import PlainListener
from changewright.ear.live import LiveTake
from changewright.ear.take import Take
from tests.unit.ear.exercises import clock_of, recorded, root_up, slots
from tests.unit.ear.test_transcribe import bled


def _live(audio: Audio, size: int, **told: object) -> tuple[Take, float | None]:
    live = LiveTake(audio.rate, engines=PlainListener(), **told)  # type: ignore[arg-type]
    for first in range(0, len(audio.samples), size):
        live.push(audio.samples[first : first + size])
    return live.finish()


@pytest.fixture(scope="module")
def sound() -> Audio:
    whole = recorded(slots(root_up())[:24])
    return Audio(whole.samples[: 20 * whole.rate], whole.rate)


@pytest.mark.parametrize("size", [4096, 10**7])
def test_however_it_comes_in_the_notes_are_the_same(sound: Audio, size: int) -> None:
    take, lag = _live(sound, 50_000)
    other, _ = _live(sound, size)
    assert lag is None
    assert take.length_s == pytest.approx(sound.length_s)
    assert [n.midi for n in take.notes] == [n.midi for n in other.notes]
    for one, two in zip(take.notes, other.notes, strict=True):
        assert one.onset_s == pytest.approx(two.onset_s, abs=0.03)


def test_a_take_that_grows_much_louder_is_looked_at_again(sound: Audio) -> None:
    swell = np.where(np.arange(len(sound.samples)) < 9 * sound.rate, 0.02, 1.0)
    audio = Audio((sound.samples * swell).astype(np.float32), sound.rate)
    take, _ = _live(audio, 4096)
    whole, _ = _live(audio, 10**7)
    assert [n.midi for n in take.notes] == [n.midi for n in whole.notes]


def test_the_band_is_found_in_the_count_in_and_taken_out_on_the_way() -> None:
    audio, band = bled(0.2, 0.12)
    count_in = 4 * clock_of(root_up()).quarter_s
    take, lag = _live(audio, 4096, backing=band, count_in_s=count_in)
    whole, _ = _live(audio, 10**7, backing=band, count_in_s=count_in)
    assert lag == pytest.approx(0.2, abs=0.001)
    late = {round(n.onset_s, 1) for n in take.notes} ^ {round(n.onset_s, 1) for n in whole.notes}
    assert len(late) < 0.3 * len(whole.notes)


def test_nothing_is_no_take() -> None:
    take, lag = _live(Audio(np.zeros(100, dtype=np.float32), 44_100), 64)
    assert take.notes == ()
    assert lag is None
