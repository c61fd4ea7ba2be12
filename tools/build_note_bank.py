"""Render the note bank once: single notes by FluidSynth from a SoundFont under a free licence.

Needs Debian's ``fluidsynth`` and ``musescore-general-soundfont-small``; the package itself needs
neither. Run from the root of the repository::

    python tools/build_note_bank.py

Writes ``src/changewright/sound/bank/``: a zip of Ogg Vorbis (pitched) or FLAC (drums) notes a
voice, and ``index.json`` with where each note's audible attack lies, where it may be looped, how
fast it dies when released, and how loud each velocity is.
"""

import argparse
import io
import json
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import correlate, lfilter

from changewright.sound._fluidsynth import Synth
from changewright.theory.instrument import instruments

__all__ = ["build"]

Audio = NDArray[np.float32]
RATE = 48_000
FONT = Path("/usr/share/sounds/sf3/MuseScore_General_Lite.sf3")
BANK = Path("src/changewright/sound/bank")
CURVE = (8, 16, 24, 32, 40, 48, 56, 64, 72, 74, 76, 84, 92, 100, 106, 108, 112, 120, 127)
PIANO_ROOTS = (48, 50, 52, 55, 57, 59, 60, 62, 64, 67, 69, 71, 72, 76, 79, 80, 83, 85, 87)
PIANO_FAR = (23, 27, 31, 35, 39, 43, 91, 95, 99, 103, 107)
SLOWEST_RELEASE = 75.0  # dB a second: slower voices would smear a line of eighths
SOFT_SOUNDING = (37, 38, 39, 40, 36, 41, 43, 45, 47, 48, 50)
JAZZ = (
    *(33, 36, 37, 38, 39, 40, 41, 42, 43, 44, 45, 46, 47, 48, 49, 50),
    *(51, 53, 54, 56, 57, 59, 63, 64, 69, 70, 75, 76, 77, 82),
)
BRUSHED = (36, 37, 38, 39, 40)  # the rest of the brush kit is the jazz kit's


@dataclass(frozen=True)
class Voice:
    """What to render for one instrument or kit. ``program`` counts from 0; kits lie in bank 128.
    ``layers`` are the velocities rendered; each serves up to the midpoint set in ``edges``."""

    id: str
    program: int
    layers: tuple[int, ...]
    edges: tuple[int, ...]
    seconds: float
    quality: float
    sustained: bool
    stereo: bool = False


def melodic() -> list[Voice]:
    """One voice a program that an instrument of the table asks for."""
    names = {
        11: "vibraphone",
        26: "guitar",
        32: "double-bass",
        33: "electric-bass",
        40: "violin",
        41: "viola",
        42: "cello",
        52: "voice",
        56: "trumpet",
        57: "trombone",
        58: "tuba",
        60: "horn",
        64: "soprano-saxophone",
        65: "alto-saxophone",
        66: "tenor-saxophone",
        67: "baritone-saxophone",
        71: "clarinet",
        73: "flute",
    }
    dying = {11: 3.5, 26: 3.0, 32: 3.2, 33: 3.2}
    return [
        Voice(
            id=name,
            program=program,
            layers=(60, 90) if name == "guitar" else (88,),  # this guitar was sampled twice
            edges=(71, 127) if name == "guitar" else (127,),
            seconds=dying.get(program, 2.1),
            quality=0.6,
            sustained=program not in dying,
        )
        for program, name in names.items()
    ]


PIANO = Voice(
    "piano", 0, (30, 50, 66, 90, 114), (40, 58, 74, 107, 127), 3.4, 0.5, False, stereo=True
)


def build(font: Path, folder: Path) -> None:
    """Render every voice and write the bank."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.zip"):
        if old.name != "words.zip":  # spoken by build_count_words.py
            old.unlink()
    index: dict[str, Any] = {"rate": RATE, "voices": {}}
    with Synth(font, rate=RATE) as synth:
        for voice in [PIANO, *melodic()]:
            index["voices"][voice.id] = pitched(synth, voice, folder)
        for name, program, pieces in (("kit-jazz", 32, JAZZ), ("kit-brushes", 40, BRUSHED)):
            index["voices"][name] = kit(synth, name, program, pieces, folder)
    text = json.dumps(index, indent=None, separators=(",", ":"), sort_keys=True)
    (folder / "index.json").write_text(text.replace('},"', '},\n"') + "\n", encoding="utf-8")


def roots_of(voice: Voice) -> list[tuple[int, tuple[int, ...]]]:
    """The keys to render, each with its layers; the far ends of the piano get two."""
    if voice.id == "piano":
        few = (voice.layers[1], voice.layers[3])
        near = [(midi, voice.layers) for midi in PIANO_ROOTS]
        return sorted([*near, *((midi, few) for midi in PIANO_FAR)])
    spans = [
        i.concert_range("professional")
        for i in instruments().values()
        if i.gm_program == voice.program
    ]
    low, high = min(s.low.midi for s in spans), max(s.high.midi for s in spans)
    step = 2 if voice.program in (32, 33) else 3
    return [(midi, voice.layers) for midi in range(low, high + step, step)]


def pitched(synth: Synth, voice: Voice, folder: Path) -> dict[str, Any]:
    """Render one instrument and describe it."""
    keys = roots_of(voice)
    middle = keys[len(keys) // 2][0]
    notes: list[dict[str, Any]] = []
    with packed(folder / f"{voice.id}.zip") as pack:
        for midi, layers in keys:
            for layer in layers:
                audio = note(synth, 0, (0, voice.program), midi, layer, voice.seconds)
                audio = audio if voice.stereo else audio.mean(axis=1, keepdims=True)
                audio, loop = looped(audio) if voice.sustained else (tail_faded(audio), None)
                row = keep(pack, f"{midi}-{layer}.ogg", audio, voice.quality)
                notes.append({"midi": midi, "layer": layer, "loop": loop, **row})
    release = {
        str(midi): release_rate(synth, (0, voice.program), midi)
        for midi in sorted({n["midi"] for n in notes})
    }
    return {
        "program": voice.program,
        "edges": list(zip(voice.layers, voice.edges, strict=True)),
        "curve": curve(synth, 0, (0, voice.program), middle),
        "release_db_per_s": release,
        "notes": notes,
        "loudness": loudness(synth, 0, (0, voice.program), middle),
    }


def kit(
    synth: Synth, name: str, program: int, pieces: tuple[int, ...], folder: Path
) -> dict[str, Any]:
    """Render one drum kit and describe it."""
    notes: list[dict[str, Any]] = []
    curves: dict[str, list[tuple[int, float]]] = {}
    with packed(folder / f"{name}.zip") as pack:
        for midi in pieces:
            curves[str(midi)] = curve(synth, 9, (128, program), midi)
            for layer in (70, 96, 116) if midi in SOFT_SOUNDING else (90,):
                audio = note(synth, 9, (128, program), midi, layer, 3.0).mean(axis=1)[:, None]
                row = keep(pack, f"{midi}-{layer}.flac", tail_faded(audio), None)
                notes.append({"midi": midi, "layer": layer, "loop": None, **row})
    return {
        "program": program,
        "edges": [(70, 80), (96, 104), (116, 127)],
        "curves": curves,
        "notes": notes,
        "loudness": loudness(synth, 9, (128, program), 51),
    }


def note(
    synth: Synth, channel: int, program: tuple[int, int], midi: int, velocity: int, seconds: float
) -> Audio:
    """One note held, alone."""
    synth.silence()
    synth.frames(RATE // 2)  # what an earlier note leaves behind dies away here
    synth.choose(channel, *program)
    synth.note_on(channel, midi, velocity)
    return synth.frames(int(seconds * RATE))


def curve(
    synth: Synth, channel: int, program: tuple[int, int], midi: int
) -> list[tuple[int, float]]:
    """Level of each velocity in dB against velocity 100, over the first half second."""
    level = {v: rms_db(note(synth, channel, program, midi, v, 0.5)) for v in CURVE}
    return [(v, round(level[v] - level[100], 2)) for v in CURVE]


def release_rate(synth: Synth, program: tuple[int, int], midi: int) -> float:
    """How many dB a second a released note falls faster than a held one."""
    held = note(synth, 0, program, midi, 90, 1.2)
    synth.silence()
    synth.frames(RATE // 2)
    synth.choose(0, *program)
    synth.note_on(0, midi, 90)
    start = RATE // 2 // 64 * 64
    synth.frames(start)
    synth.note_off(0, midi)
    gone = synth.frames(RATE // 2)
    block = RATE // 50
    fall = []
    for k in range(20):
        cut = slice(k * block, (k + 1) * block)
        a = rms_db(held[start + cut.start : start + cut.stop])
        fall.append(a - rms_db(gone[cut]))
    fast = [k for k, f in enumerate(fall) if 0.5 < f < 50]
    if len(fast) < 2:
        return 400.0 if fall[1] >= 50 else SLOWEST_RELEASE
    slope = (fall[fast[-1]] - fall[fast[0]]) / ((fast[-1] - fast[0]) * 0.02)
    return round(float(np.clip(slope, SLOWEST_RELEASE, 2000)), 1)


def loudness(synth: Synth, channel: int, program: tuple[int, int], midi: int) -> float:
    """K-weighted level in dB of the first 400 ms at velocity 80, to balance voices by ear's weight.

    Source: the two filters of ITU-R BS.1770-4, annex 1, coefficients at 48 kHz.
    """
    audio = note(synth, channel, program, midi, 80, 0.4).mean(axis=1)
    shelf = lfilter(
        (1.53512485958697, -2.69169618940638, 1.19839281085285),
        (1, -1.69065929318241, 0.73248077421585),
        audio,
    )
    weighted = lfilter((1, -2, 1), (1, -1.99004745483398, 0.99007225036621), shelf)
    return round(rms_db(weighted), 2)


def tail_faded(audio: Audio) -> Audio:
    """Cut a dying note where it has fallen by 66 dB, and fade its last 80 ms."""
    block = RATE // 50
    peaks = np.abs(audio[: len(audio) // block * block]).reshape(-1, block * audio.shape[1])
    loud = np.flatnonzero(peaks.max(axis=1) > peaks.max() * 10 ** (-66 / 20))
    end = min(len(audio), max((int(loud[-1]) + 2) * block, RATE // 10))
    kept = audio[:end].copy()
    fade = min(RATE // 12, len(kept) // 3)
    kept[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32))[:, None] ** 2
    return kept


def looped(audio: Audio) -> tuple[Audio, list[int]]:
    """Find the stretch of a held note that repeats best, and cross-fade its seam.

    Returns the note up to the seam, and [start, end) of the loop in frames.
    """
    window, end = 4096, int(2.0 * RATE)
    mono = audio.mean(axis=1, dtype=np.float64)
    target = mono[end - window : end]
    searched = mono[int(0.9 * RATE) - window : int(1.4 * RATE)]
    power = np.concatenate([[0.0], np.cumsum(searched**2)])
    sizes = np.sqrt(power[window:] - power[:-window]) + 1e-9
    alike = correlate(searched, target, mode="valid", method="fft") / sizes
    start = int(0.9 * RATE) + int(np.argmax(alike))
    kept = audio[:end].copy()
    up = np.sin(np.linspace(0, np.pi / 2, window, dtype=np.float32))[:, None] ** 2
    kept[-window:] = kept[-window:] * (1 - up) + audio[start - window : start] * up
    return kept, [start, end]


def keep(pack: zipfile.ZipFile, name: str, audio: Audio, quality: float | None) -> dict[str, Any]:
    """Store one note at a peak of 0.5; ``level`` restores how loud it was."""
    peak = float(np.abs(audio).max())
    scaled = audio / (2 * peak)
    blob = io.BytesIO()
    kind = ("FLAC", "PCM_16") if quality is None else ("OGG", "VORBIS")
    options = {} if quality is None else {"compression_level": 1 - quality}
    channels = audio.shape[1]
    with soundfile.SoundFile(
        blob, "w", RATE, channels, format=kind[0], subtype=kind[1], **options
    ) as file:
        for at in range(0, len(scaled), RATE):  # PITFALL: one long Vorbis write crashes libsndfile
            file.write(scaled[at : at + RATE])
    pack.writestr(zipfile.ZipInfo(name), blob.getvalue())
    return {
        "file": name,
        "frames": len(audio),
        "level": float(f"{2 * peak:.6g}"),
        "attack": attack(audio),
    }


def attack(audio: Audio) -> int:
    """The frame at which the note becomes audible: 10 % of its peak in the first 60 ms."""
    head = np.abs(audio[: RATE * 60 // 1000]).max(axis=1)
    return int(np.argmax(head >= 0.1 * head.max()))


def packed(path: Path) -> zipfile.ZipFile:
    """A zip without compression: its members are compressed already."""
    return zipfile.ZipFile(path, "w", zipfile.ZIP_STORED)


def rms_db(audio: Audio) -> float:
    """Level in dB."""
    return float(10 * np.log10(np.mean(np.square(audio, dtype=np.float64)) + 1e-14))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Render the note bank.")
    parser.add_argument("--font", type=Path, default=FONT)
    parser.add_argument("--into", type=Path, default=BANK)
    chosen = parser.parse_args()
    build(chosen.font, chosen.into)
