"""Real voices, where ``tools/sung.sh`` put them, against two musicians' ears.

Source: the dataset vocadito (R. Bittner and others, 2021), see benchmarks/sung/NOTICE.txt. How far
two musicians agree is as far as a listener can be held to.
"""

from statistics import mean

import pytest
from benchmarks.bench_ear import f1_of
from benchmarks.singers import CLIPS, Clip, clips

from changewright.ear.transcribe import transcribe
from changewright.theory.instrument import instrument

pytestmark = pytest.mark.slow


@pytest.fixture(params=list(CLIPS))
def clip(request: pytest.FixtureRequest) -> Clip:
    found = list(clips(request.param))
    if not found:
        pytest.skip("no sung recordings here: sh tools/sung.sh .venv")
    return found[0]


def test_a_voice_is_written_down_as_two_musicians_would(clip: Clip) -> None:
    take = transcribe(clip.audio, instrument=instrument(clip.player))
    heard = [(n.onset_s, n.end_s, n.pitch) for n in take.notes]
    agreement = f1_of(*clip.annotators)
    assert mean(f1_of(written, heard) for written in clip.annotators) >= agreement - 0.05


def test_two_musicians_wrote_down_each_voice(clip: Clip) -> None:
    """What they agree on is far from all, and far from nothing."""
    assert 0.6 < f1_of(*clip.annotators) < 0.7
    for notes in clip.annotators:
        assert notes == sorted(notes)
        assert all(0 <= onset < end <= clip.audio.length_s for onset, end, _ in notes)
