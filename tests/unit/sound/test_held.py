"""Long notes and note ends, listened to for clicks: what lies above 9 kHz in stretches of a
millisecond. A click is an edge, and an edge is bright; a horn that goes on sounding is not."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

from changewright.music.performance import Event, Part, Performance
from changewright.sound.bank import BANK_RATE, Voice, voice_ids, voice_of
from changewright.sound.mix import Strike, strikes_of
from changewright.sound.stems import synthesise

MS = BANK_RATE // 1000
HIGH = butter(6, 9_000, "high", fs=BANK_RATE, output="sos")
INSTRUMENTS = sorted(
    {v.id: v for v in (voice_of(p) for p in range(128))}.values(), key=lambda v: v.id
)
HELD = [v for v in INSTRUMENTS if any(s.loop for s in v.samples.values())]


def played(voice: Voice, midi: int, held_s: float, velocity: int = 88) -> tuple[Strike, np.ndarray]:
    """One note alone: how it was struck, and its sound on one side."""
    part = Part("line", voice.program, (Event(0.5, held_s, midi, velocity),))
    [strike] = strikes_of(part)
    return strike, synthesise(Performance((part,), 0.5 + held_s))["line"][:, 0].astype(float)


def brightness(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    """The highest sample above 9 kHz in every millisecond."""
    bright = np.abs(sosfiltfilt(HIGH, sound))
    return bright[: len(bright) // MS * MS].reshape(-1, MS).max(axis=1)


def test_every_voice_is_listened_to() -> None:
    named = {v.id for v in INSTRUMENTS}
    assert {name for name in voice_ids() if not name.startswith(("kit-", "words"))} == named
    assert {"flute", "trumpet", "trombone", "violin", "voice", "tenor-saxophone"} <= {
        v.id for v in HELD
    }


@pytest.mark.parametrize("voice", HELD, ids=lambda v: v.id)
@pytest.mark.parametrize("moved", [0, 1])
def test_a_held_note_turns_round_without_a_click(voice: Voice, moved: int) -> None:
    """Where the loop begins anew, nothing is brighter than the note itself ever is."""
    roots = sorted(voice.roots)
    for root in (roots[1], roots[len(roots) // 2]):
        strike, sound = played(voice, root + moved, 6.0)
        sample = strike.sample
        assert sample.loop is not None
        ratio = 2 ** ((root + moved - sample.midi) / 12)
        bright = brightness(sound)
        body = bright[
            (strike.start + BANK_RATE // 2) // MS : (strike.start + strike.held) // MS - 2
        ]
        turn = (sample.frames - sample.loop[0]) / ratio
        seams = [strike.start + sample.frames / ratio + k * turn for k in range(5)]
        near = {round(seam / MS) + d for seam in seams for d in range(-12, 13)}
        first = (strike.start + BANK_RATE // 2) // MS
        at = [b for k, b in enumerate(body, start=first) if k in near]
        away = [b for k, b in enumerate(body, start=first) if k not in near]
        assert len(at) > 50
        assert max(at) < 1.5 * max(away)


@pytest.mark.parametrize("voice", INSTRUMENTS, ids=lambda v: v.id)
@pytest.mark.parametrize("held_s", [0.08, 0.4, 2.5])
def test_a_note_ends_without_a_click_and_dies_away(voice: Voice, held_s: float) -> None:
    """Where it is let go and where it is over, nothing is bright that wasn't before, by more than
    could be heard: 60 dB under the note."""
    roots = sorted(voice.roots)
    for midi in (roots[1] + 1, roots[len(roots) // 2]):
        strike, sound = played(voice, midi, held_s)
        bright, top = brightness(sound), np.abs(sound).max()
        for edge in (strike.start + strike.held, min(strike.start + strike.length, len(sound))):
            at = edge // MS
            around = bright[max(at - 20, 0) : at - 2].max(initial=0)
            assert bright[at - 1 : at + 2].max(initial=0) < 2 * around + top / 1000
        assert np.abs(sound[-MS:]).max() < top / 1000  # it has died, and wasn't cut
