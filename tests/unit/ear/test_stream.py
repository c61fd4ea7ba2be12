"""Hearing live: the notes of the whole take, soon after they end, from little sound kept."""

from itertools import pairwise

import numpy as np
import pytest

from changewright.ear.audio import Audio
from changewright.ear.fakes import PlainListener
from changewright.ear.stream import DELAY_S, HELD_S, Listener, heard_live
from changewright.ear.transcribe import transcribe
from changewright.theory.instrument import instrument
from tests.unit.ear.exercises import recorded, root_up, slots

HORN = instrument("tenor saxophone")


@pytest.fixture(scope="module")
def sound() -> Audio:
    whole = recorded(slots(root_up())[:16])
    return Audio(whole.samples[: 14 * whole.rate], whole.rate)


def _blocks(sound: Audio, size: int) -> list[np.ndarray]:
    return [sound.samples[k : k + size] for k in range(0, len(sound.samples), size)]


def test_live_and_whole_agree(sound: Audio) -> None:
    live = list(heard_live(_blocks(sound, 1024), sound.rate, instrument=HORN))
    whole = transcribe(sound, instrument=HORN).notes
    assert [n.midi for n in live] == [n.midi for n in whole]
    for one, other in zip(live, whole, strict=True):
        assert one.onset_s == pytest.approx(other.onset_s, abs=0.05)


def test_every_note_comes_within_the_delay_and_once(sound: Audio) -> None:
    listener = Listener(sound.rate, instrument=HORN)
    pushed, found = 0, []
    for block in _blocks(sound, 777):
        pushed += len(block)
        for note in listener.push(block):
            assert pushed / sound.rate - note.end_s <= DELAY_S + 0.02
            found.append(note)
        assert listener.kept_s < 7
    found += listener.finish()
    for before, after in pairwise(found):
        assert before.onset_s < before.end_s <= after.onset_s + 0.03


@pytest.mark.parametrize("size", [64, 5000, 400_000])
def test_blocks_may_have_any_length(sound: Audio, size: int) -> None:
    engines = PlainListener()
    found = list(heard_live(_blocks(sound, size), sound.rate, engines=engines))
    assert len(found) >= 10


def test_a_note_held_long_comes_in_pieces() -> None:
    at = np.arange(15 * 22_050) / 22_050
    tone = (0.3 * np.sin(2 * np.pi * 220 * at)).astype(np.float32)
    found = list(heard_live(_blocks(Audio(tone, 22_050), 2205), 22_050, engines=PlainListener()))
    assert len(found) > 1
    assert {n.midi for n in found} == {57}
    assert max(n.length_s for n in found) <= HELD_S + 2
    assert sum(n.length_s for n in found) == pytest.approx(15, abs=1)


def test_silence_and_nothing_give_no_note() -> None:
    silence = Audio(np.zeros(5 * 22_050, dtype=np.float32), 22_050)
    assert list(heard_live(_blocks(silence, 4410), 22_050, engines=PlainListener())) == []
    assert list(heard_live([], 22_050, engines=PlainListener())) == []
