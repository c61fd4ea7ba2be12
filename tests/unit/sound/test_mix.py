"""Where notes fall, to the frame."""

import numpy as np
import pytest

from changewright.music.performance import Event, Part, Performance
from changewright.sound.bank import BANK_RATE, NoteBank, voice_of
from changewright.sound.mix import frame_of, mixed, strikes_of
from changewright.sound.stems import synthesise
from tests.unit.sound.material import clicks, first_heard, quartet

ONSETS = [0.0, 0.5, 1.0001, 1.37, 2.123456, 3.0, 3.3333, 61.7, 599.99999]


@pytest.mark.parametrize("midi", [37, 38, 51, 42, 76])
def test_every_click_is_heard_at_its_computed_frame(midi: int) -> None:
    onsets = [0.25 + at for at in ONSETS[:7]]
    audio = synthesise(clicks(onsets, midi))["drums"][:, 0]
    quiet = 0.0
    for at in onsets:
        frame = frame_of(at)
        ringing = np.abs(audio[max(frame - 300, 0) : frame - 200]).max(initial=0.0)
        quiet = max(quiet, float(ringing))
        heard = first_heard(audio, frame - 200, frame + 3_000)
        if ringing < 0.01 * np.abs(audio[frame : frame + 3_000]).max():
            assert heard == frame
    assert len(onsets) == 7


@pytest.mark.parametrize("program", [0, 32, 33, 66, 56, 71, 73, 40, 11, 26, 52, 58])
def test_every_instrument_speaks_on_its_frame(program: int) -> None:
    """The audible attack (a tenth of the first 60 ms' peak) lies within 1 ms of the event."""
    voice = voice_of(program)
    roots = sorted(voice.roots)
    events = tuple(Event(0.2 + 2.0 * k, 0.5, midi, 80) for k, midi in enumerate(roots[2:-2:3]))
    part = Part("line", program, events)
    audio = np.abs(synthesise(Performance((part,), 40.0))["line"]).max(axis=1)
    for event, strike in zip(events, strikes_of(part), strict=True):
        frame = frame_of(event.onset_s)
        heard = first_heard(audio, strike.start, strike.start + 2_880)
        assert abs(heard - frame) <= 48


def test_a_late_click_is_as_exact_as_an_early_one() -> None:
    """Frames come from absolute times: ten minutes in, the error is still none."""
    part = clicks(ONSETS).parts[0]
    assert [s.onset for s in strikes_of(part)] == [round(at * 48_000) for at in ONSETS]


def test_a_stretch_mixed_alone_is_the_same_bit_for_bit() -> None:
    bank = NoteBank()
    for part in quartet().parts:
        voice, strikes = voice_of(part.program, part.is_drums), strikes_of(part)
        whole = mixed(voice, strikes, 0, 200_000, bank, 0.5, 170_000)
        for start, stop in ((0, 50_001), (50_001, 131_000), (131_000, 200_000)):
            alone = mixed(voice, strikes, start, stop, bank, 0.5, 170_000)
            assert np.array_equal(alone, whole[:, start:stop])


def test_an_open_hat_is_choked_by_the_foot() -> None:
    def tail(events: tuple[Event, ...]) -> float:
        part = Part("drums", 32, events, is_drums=True)
        audio = synthesise(Performance((part,), 3.0))["drums"]
        return float(np.abs(audio[48_000:60_000]).max())

    opened = Event(0.1, 0.1, 46, 90)
    closed = Event(0.5, 0.1, 44, 1)
    assert tail((opened, closed)) < 0.1 * tail((opened,))


def test_a_held_note_goes_on_without_a_seam() -> None:
    event = Event(0.1, 8.0, 60, 80)
    audio = synthesise(Performance((Part("line", 66, (event,)),), 9.0))["line"][:, 0]
    levels = [
        float(np.sqrt(np.mean(audio[at : at + 24_000] ** 2)))
        for at in range(24_000, 360_000, 24_000)
    ]
    assert max(levels) / min(levels) < 1.6
    steps = np.abs(np.diff(audio[24_000:360_000]))
    assert steps.max() < 4 * np.quantile(steps, 0.99)


def test_a_note_let_go_falls_silent() -> None:
    event = Event(0.1, 0.5, 60, 80)
    for program in (0, 32, 66, 56, 73):
        audio = synthesise(Performance((Part("line", program, (event,)),), 3.0))["line"]
        during = np.abs(audio[20_000:28_000]).max()
        after = np.abs(audio[frame_of(0.6) + BANK_RATE : frame_of(0.6) + 2 * BANK_RATE])
        assert after.max(initial=0.0) < 0.01 * during


def test_a_piece_the_kit_lacks_is_left_out() -> None:
    assert not strikes_of(clicks([0.1], midi=127).parts[0])
