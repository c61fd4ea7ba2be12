"""Sound a performance by the user's own SoundFont, through FluidSynth where it is installed."""

from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from changewright.music.performance import Part, Performance
from changewright.sound._fluidsynth import Synth
from changewright.sound.bank import BANK_RATE, WORDS, NoteBank, voice_of
from changewright.sound.levelling import levelling, scaled
from changewright.sound.loudness import SILENT_LUFS, Meter
from changewright.sound.mix import fade_out, frame_of
from changewright.sound.stems import TAIL_S, Stems, tracks_of

__all__ = ["render_by"]

_DRUM_CHANNEL, _DRUM_BANK = 9, 128

# The line above the band, the count below it. Source: the loudness of the note bank's stems.
_STEM_LUFS = {"line": -20.0, "bass": -26.0, "comping": -27.0, "drums": -27.0, "count-in": -30.0}
_OTHER_LUFS = -27.0


def render_by(soundfont: Path, performance: Performance) -> Stems:
    """Sound a performance as :func:`render` does, with the user's own SoundFont.

    Every part is played by a fresh synth, so that the same performance sounds the same. Each stem
    is first brought to one loudness, then balanced as the note bank's are. Onsets are exact to
    FluidSynth's blocks of 64 frames, 1.3 ms. Raises :class:`InputError` where FluidSynth or the
    SoundFont is missing.
    """
    frames = frame_of(performance.length_s + TAIL_S)
    raw = {p.name: _balanced(p.name, _played(soundfont, p, frames)) for p in performance.parts}
    meter = Meter(BANK_RATE)
    total = np.zeros((frames, 2), dtype=np.float32)
    for stem in raw.values():
        total += stem
    meter.add(total.T)
    level = levelling(meter)
    stems = {name: level.applied(stem) for name, stem in raw.items()}
    return Stems(BANK_RATE, MappingProxyType(stems), level.loudness, level.gain_db)


def _played(soundfont: Path, part: Part, frames: int) -> NDArray[np.float32]:
    if voice_of(part.program, part.is_drums).id == WORDS:  # no SoundFont speaks
        [track] = tracks_of(Performance((part,), frames / BANK_RATE))
        return track.block(0, frames, NoteBank()).T
    channel = _DRUM_CHANNEL if part.is_drums else 0
    with Synth(soundfont, rate=BANK_RATE) as synth:
        synth.choose(channel, _DRUM_BANK if part.is_drums else 0, part.program)
        rows = [
            (frame_of(e.onset_s), frame_of(e.duration_s), channel, e.midi, e.velocity)
            for e in part.events
        ]
        stem = synth.play(rows, frames)
    fade_out(stem.T, 0, frames)
    return stem


def _balanced(name: str, stem: NDArray[np.float32]) -> NDArray[np.float32]:
    """A stem at the loudness that its part has in a band, measured where it sounds at all."""
    meter = Meter(BANK_RATE)
    meter.add(stem.T)
    lufs = meter.result().lufs
    if lufs <= SILENT_LUFS:
        return stem
    return scaled(stem, float(10 ** ((_STEM_LUFS.get(name, _OTHER_LUFS) - lufs) / 20)))
