from itertools import pairwise

import numpy as np
import pytest

from changewright.sound.bank import BANK_RATE, NoteBank, voice_ids, voice_of
from changewright.theory.instrument import instruments
from tests.unit.sound.material import pitch_hz


@pytest.mark.parametrize("name", sorted(instruments()))
def test_every_instrument_has_a_voice_over_its_whole_range(name: str) -> None:
    one = instruments()[name]
    voice = voice_of(one.gm_program)
    span = one.concert_range("professional")
    assert voice.program == one.gm_program
    for midi in range(span.low.midi, span.high.midi + 1):
        root = voice.root_of(midi)
        assert root is not None
        assert abs(root - midi) <= 2


def test_voices_are_those_of_general_midi() -> None:
    # General MIDI Level 1 sound set, programs counted from 0
    expected = {
        0: "piano",
        11: "vibraphone",
        26: "guitar",
        32: "double-bass",
        33: "electric-bass",
        40: "violin",
        56: "trumpet",
        57: "trombone",
        64: "soprano-saxophone",
        65: "alto-saxophone",
        66: "tenor-saxophone",
        67: "baritone-saxophone",
        71: "clarinet",
        73: "flute",
    }
    assert {program: voice_of(program).id for program in expected} == expected


def test_any_program_and_any_kit_sound_somehow() -> None:
    assert {voice_of(program).id for program in range(128)} <= set(voice_ids())
    assert voice_of(40, is_drums=True).id == "kit-brushes"
    assert {voice_of(p, is_drums=True).id for p in (0, 8, 32)} == {"kit-jazz"}


@pytest.mark.parametrize("program", [0, 11, 26, 32, 33, 40, 52, 56, 57, 66, 67, 71, 73])
@pytest.mark.parametrize("above", [12, 17, 19])
def test_notes_sound_at_their_pitch(program: int, above: int) -> None:
    """Against equal temperament at A4 = 440 Hz (ISO 16), within a third of a semitone."""
    voice = voice_of(program)
    midi = min(voice.roots) + above
    sample = voice.sample_of(midi, 80)
    assert sample is not None
    audio = NoteBank().note(sample, midi, BANK_RATE)[0]
    heard = pitch_hz(audio[4_800:40_000], 440 * 2 ** ((midi - 69) / 12))
    assert abs(12 * np.log2(heard / (440 * 2 ** ((midi - 69) / 12)))) < 1 / 3


def test_louder_velocities_are_louder() -> None:
    for program, is_drums, midi in (
        (0, False, 60),
        (32, False, 40),
        (66, False, 60),
        (32, True, 51),
    ):
        voice = voice_of(program, is_drums)
        peaks = []
        for velocity in (20, 40, 60, 80, 100, 120):
            sample = voice.sample_of(midi, velocity)
            assert sample is not None
            audio = NoteBank().note(sample, midi, BANK_RATE)
            peaks.append(float(np.abs(audio).max()) * voice.gain(sample, velocity))
        assert all(soft < loud / 1.2 for soft, loud in pairwise(peaks))


def test_a_small_bank_forgets_and_decodes_again() -> None:
    voice = voice_of(66)
    small, big = NoteBank(kept_bytes=1), NoteBank()
    for midi in (50, 55, 50):
        sample = voice.sample_of(midi, 80)
        assert sample is not None
        assert np.array_equal(small.note(sample, midi, 9_000), big.note(sample, midi, 9_000))


def test_a_longer_need_decodes_more() -> None:
    voice, bank = voice_of(32), NoteBank()
    sample = voice.sample_of(40, 80)
    assert sample is not None
    short = bank.note(sample, 40, 1_000)
    long = bank.note(sample, 40, 90_000)
    assert short.shape[1] < 90_000 <= long.shape[1]
    assert np.array_equal(short[:, :20_000], long[:, :20_000])


def test_the_package_s_audio_is_small_and_carries_its_notice() -> None:
    from importlib.resources import files

    bank = files("changewright.sound").joinpath("bank")
    total = sum(len(f.read_bytes()) for f in bank.iterdir())
    assert total <= 20_000_000
    notice = bank.joinpath("NOTICE.txt").read_text("utf-8")
    assert "Permission is hereby granted" in notice
    assert "Frank Wen" in notice
