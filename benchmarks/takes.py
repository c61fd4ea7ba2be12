"""A test bed for the ear: takes whose every note is known, in the rooms where students play.

Voices come from three places: a small additive synthesiser (always there), a folder of real
single notes (named by ``CHANGEWRIGHT_NOTES``: one folder an instrument, files named by pitch) and
a General MIDI SoundFont played by FluidSynth (named by ``CHANGEWRIGHT_SOUNDFONT``). The latter
two are for testing only and never shipped. Truth is the *acoustic* onset: where the note alone
reaches -20 dB of its peak, not where it was triggered.
"""

import io
import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, resample_poly, sosfilt

__all__ = [
    "CONDITIONS",
    "RATE",
    "Bank",
    "Played",
    "Rendered",
    "Wave",
    "backing",
    "folder_bank",
    "improvised",
    "named_bank",
    "render",
    "repeating",
    "soundfont_bank",
    "synthetic_bank",
    "through",
    "under",
]

RATE = 44_100
Wave = NDArray[np.float32]
Bank = Callable[[int, float, float, bool], Wave]
"""A voice: (MIDI number, seconds, velocity 0..1, slurred) to a note with its release."""


@dataclass(frozen=True, slots=True)
class Played:
    """One note as the player plays it: seconds, MIDI number, velocity 0..1, slurred or tongued.

    ``damped`` says by how many dB and for how many seconds the note before is stopped right before
    this one: by the tongue, the bow or the plectrum. ``shape`` is what is done to a held note.
    """

    onset_s: float
    length_s: float
    midi: int
    velocity: float = 0.8
    slurred: bool = False
    damped: tuple[float, float] | None = None
    shape: "Shape | None" = None


@dataclass(frozen=True, slots=True)
class Shape:
    """Vibrato of so many cents, dB and hertz, and a level that lies ``swell_db`` lower at both ends
    of the note (or, if negative, in its middle) than elsewhere.
    """

    cents: float = 0.0
    shake_db: float = 0.0
    hertz: float = 5.0
    swell_db: float = 0.0


@dataclass(frozen=True, slots=True)
class Rendered:
    """A take with its truth: (acoustic onset, end, MIDI number) of each note."""

    samples: Wave
    truth: tuple[tuple[float, float, int], ...]


# ---- voices


@dataclass(frozen=True, slots=True)
class _Timbre:
    partials: tuple[float, ...]
    attack_s: float
    release_s: float = 0.05
    decay_s: float = 0.0  # 0: sustained
    vibrato_cents: float = 0.0
    breath: float = 0.0
    scoop_cents: float = 0.0
    scoop_s: float = 0.03


TIMBRES = {
    "reed": _Timbre((1, 0.8, 0.7, 0.45, 0.4, 0.25, 0.15, 0.1, 0.06), 0.03, 0.05, 0, 12, 0.01, 40),
    "odd reed": _Timbre(
        (1, 0.05, 0.6, 0.08, 0.35, 0.06, 0.15, 0.03, 0.07), 0.035, 0.04, 0, 4, 0.006
    ),
    "edge": _Timbre((1, 0.5, 0.2, 0.08, 0.03), 0.05, 0.06, 0, 18, 0.03),
    "brass": _Timbre((0.8, 1, 0.9, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1), 0.025, 0.05, 0, 6, 0.004, 25),
    "plucked": _Timbre((1, 0.6, 0.4, 0.3, 0.2, 0.12, 0.08), 0.004, 0.04, 0.9, 0, 0.0),
    "voice": _Timbre((0.7, 1, 0.8, 0.35, 0.2, 0.3, 0.2, 0.08), 0.06, 0.09, 0, 45, 0.012, 120, 0.05),
    "bowed": _Timbre((1, 0.7, 0.5, 0.4, 0.35, 0.25, 0.2, 0.1), 0.06, 0.08, 0, 20, 0.006),
}


def synthetic_bank(timbre: str, seed: int, detune_cents: float = 0.0) -> Bank:
    """A voice by addition of partials, with attack noise, breath, scoop and vibrato."""
    shape = TIMBRES[timbre]
    rng = np.random.default_rng(seed)

    def note(midi: int, length_s: float, velocity: float, slurred: bool) -> Wave:
        count = int((length_s + shape.release_s) * RATE)
        at = np.arange(count) / RATE
        cents = detune_cents + shape.vibrato_cents * np.sin(2 * np.pi * 5.3 * at) * np.clip(
            (at - 0.2) / 0.3, 0, 1
        )
        if not slurred:
            cents -= shape.scoop_cents * np.exp(-at / shape.scoop_s)
        frequency = 440 * 2 ** ((midi - 69 + cents / 100) / 12)
        phase = 2 * np.pi * np.cumsum(frequency) / RATE
        bright = 0.5 + 0.5 * velocity
        wave = sum(
            a * bright**k * np.sin((k + 1) * phase + rng.uniform(0, 6))
            for k, a in enumerate(shape.partials)
            if frequency.max() * (k + 1) < RATE / 2.2
        )
        wave = np.asarray(wave) / sum(shape.partials)
        wave += shape.breath * rng.standard_normal(count)
        wave *= _envelope(shape, at, length_s, slurred) * velocity**1.5
        return wave.astype(np.float32)

    return note


def _envelope(shape: _Timbre, at: NDArray[np.float64], length_s: float, slurred: bool) -> Wave:
    attack = 0.008 if slurred and not shape.decay_s else shape.attack_s
    rise = np.clip(at / attack, 0, 1) ** 1.5
    fall = np.clip(1 - (at - length_s) / shape.release_s, 0, 1) ** 2
    body = np.exp(-at / shape.decay_s) if shape.decay_s else 0.85 + 0.15 * np.exp(-at / 0.1)
    return np.asarray(rise * fall * body, dtype=np.float32)


def folder_bank(folder: Path) -> Bank:
    """A voice of recorded single notes, files named like ``As3.mp3``; notes between are resampled.

    PITFALL: file names lie. In the sets we use, trumpet As3 and C3 sound an octave high and
    clarinet Fs6 a semitone flat; those are left out.
    """
    found = {}
    for file in sorted(folder.glob("*.mp3")):
        match = re.fullmatch(r"([A-G])(s?)(-?\d)", file.stem)
        if match and (folder.name.split("-")[2], file.stem) not in _MISNAMED:
            step = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[match[1]]
            found[step + bool(match[2]) + 12 * int(match[3]) + 12] = _trimmed(file)
    return _recorded(found)


_MISNAMED = {("trumpet", "As3"), ("trumpet", "C3"), ("clarinet", "Fs6")}


def _trimmed(file: Path) -> Wave:
    samples, rate = soundfile.read(file, dtype="float32", always_2d=True)
    mono = samples.mean(axis=1)
    if rate != RATE:
        mono = resample_poly(mono, RATE, rate)
    loud = np.flatnonzero(np.abs(mono) > 0.01 * np.abs(mono).max())
    start = max(0, int(loud[0]) - 441) if len(loud) else 0
    cut = mono[start:]
    return np.asarray(cut / max(1e-6, float(np.abs(cut).max())), dtype=np.float32)


def _recorded(notes: Mapping[int, Wave], release_s: float = 0.06) -> Bank:
    @cache
    def pitched(midi: int) -> Wave:
        near = min(notes, key=lambda m: (abs(m - midi), m))
        if near == midi:
            return notes[near]
        ratio = 2 ** ((near - midi) / 12)
        return np.asarray(resample_poly(notes[near], round(1000 * ratio), 1000), dtype=np.float32)

    def note(midi: int, length_s: float, velocity: float, slurred: bool) -> Wave:
        whole = pitched(midi)
        skip = int(0.06 * RATE) if slurred else 0
        count = int((length_s + release_s) * RATE)
        wave = whole[skip : skip + count].copy()
        at = np.arange(len(wave)) / RATE
        wave *= np.clip(1 - (at - length_s) / release_s, 0, 1) ** 2
        if slurred:
            wave *= np.clip(at / 0.008, 0, 1)
        return np.asarray(wave * velocity**1.5 * 0.7, dtype=np.float32)

    return note


@cache
def soundfont_bank(program: int, low: int, high: int) -> Bank:
    """A voice of a General MIDI SoundFont: every note of the range rendered once and cut out."""
    import mido

    spacing_s = 4.0
    song = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack([mido.Message("program_change", program=program)])
    song.tracks.append(track)
    for midi in range(low, high + 1):
        track.append(mido.Message("note_on", note=midi, velocity=96, time=0))
        track.append(mido.Message("note_off", note=midi, velocity=0, time=int(3.2 * 960)))
        track.append(mido.Message("note_off", note=midi, velocity=0, time=int(0.8 * 960)))
    with tempfile.TemporaryDirectory() as folder:
        score, sound = Path(folder, "a.mid"), Path(folder, "a.wav")
        song.save(score)
        command = ["fluidsynth", "-ni", "-R0", "-C0", "-g0.6", "-r", str(RATE), "-F", str(sound)]
        subprocess.run(
            [*command, os.environ["CHANGEWRIGHT_SOUNDFONT"], str(score)],
            check=True,
            capture_output=True,
        )
        whole, _ = soundfile.read(sound, dtype="float32", always_2d=True)
    mono = whole.mean(axis=1)
    size = int(spacing_s * RATE)
    cut = {low + k: mono[k * size : (k + 1) * size] for k in range(high - low + 1)}
    return _recorded({m: w / max(1e-6, float(np.abs(w).max())) for m, w in cut.items() if len(w)})


def named_bank(name: str, seed: int = 0) -> Bank | None:
    """A voice by name: ``synth:reed``, ``real:saxophone``, ``font:66``; None if it isn't here."""
    kind, _, which = name.partition(":")
    if kind == "synth":
        return synthetic_bank(which, seed)
    if kind == "real":
        folder = Path(os.environ.get("CHANGEWRIGHT_NOTES", "")) / f"tonejs-instrument-{which}-mp3"
        return folder_bank(folder) if folder.is_dir() and list(folder.glob("*.mp3")) else None
    if not shutil.which("fluidsynth") or "CHANGEWRIGHT_SOUNDFONT" not in os.environ:
        return None
    return soundfont_bank(int(which), 36, 96)


# ---- playing


def render(notes: Iterable[Played], bank: Bank, length_s: float) -> Rendered:
    """Play the notes one after the other and note down when each is acoustically there."""
    out = np.zeros(int((length_s + 0.5) * RATE), dtype=np.float32)
    truth = []
    line = list(notes)
    for note, after in zip(line, [*line[1:], None], strict=True):
        if after is not None and after.damped is not None:
            note = replace(note, length_s=after.onset_s - note.onset_s)
            wave = _damped(_sounded(note, bank, _RINGS_ON_S), note.length_s, *after.damped)
        else:
            wave = _sounded(note, bank)
        begin = int(note.onset_s * RATE)
        stop = min(len(out), begin + len(wave))
        out[begin:stop] += wave[: stop - begin]
        end_s = note.onset_s + note.length_s
        if after is not None and after.damped is not None and after.damped[0] > _STOPS_DB:
            end_s -= after.damped[1]
        truth.append((note.onset_s + _speaks_after(wave), end_s, note.midi))
    peak = float(np.abs(out).max())
    return Rendered(out * (0.5 / peak) if peak else out, tuple(truth))


def _sounded(note: Played, bank: Bank, further_s: float = 0.0) -> Wave:
    """The note, and what is done to it while it is held."""
    wave = bank(note.midi, note.length_s + further_s, note.velocity, note.slurred)
    if note.shape is None:
        return wave
    shape, at = note.shape, np.arange(len(wave)) / RATE
    grown = np.clip((at - 0.2) / 0.3, 0, 1)
    swing = 2 * np.pi * shape.hertz
    bent = 2 ** (shape.cents / 1200) - 1  # of speed, so that much over `swing` of place
    place = at + grown * bent / swing * (1 - np.cos(swing * at))
    hollow = np.cos(np.pi * np.clip(at / note.length_s, 0, 1)) ** 2  # 1, 0 in the middle, 1
    if shape.swell_db < 0:
        hollow = 1 - hollow
    level = shape.shake_db / 2 * grown * np.sin(swing * at) - abs(shape.swell_db) * hollow
    return np.asarray(np.interp(place, at, wave) * 10 ** (level / 20), dtype=np.float32)


_RINGS_ON_S, _TOUCH_S = 0.03, 0.008
_STOPS_DB = 20.0


def _damped(wave: Wave, until_s: float, by_db: float, for_s: float) -> Wave:
    """The note until the next, stopped by so much for so long before; what is left of it dies while
    the next speaks."""
    at = np.arange(len(wave)) / RATE - until_s
    touched = np.clip((at + for_s) / min(_TOUCH_S, for_s / 2), 0, 1)
    gone = np.clip(1 - at / _RINGS_ON_S, 0, 1) ** 2
    return np.asarray(wave * 10 ** (-by_db * touched / 20) * gone, dtype=np.float32)


def _speaks_after(wave: Wave) -> float:
    """Seconds until the note alone reaches -20 dB of its peak (5 ms windows)."""
    width = RATE // 200
    power = np.convolve(np.square(wave, dtype=np.float64), np.ones(width) / width, "same")
    return float(np.argmax(power > 0.01 * power.max())) / RATE


def improvised(
    seed: int, bpm: float, low: int, high: int, bars: int = 8, plucked: bool = False
) -> list[Played]:
    """A line as students and better players play them: eighths with swing, quarters, repeated
    notes, ghosts, slurs, rests, and onsets that are human."""
    rng = np.random.default_rng(seed)
    beat = 60 / bpm
    swing = rng.uniform(0.5, 0.66)
    middle = (low + high) / 2
    pitch = int(middle)
    at, notes = 0.0, []
    while at < bars * 4:
        size = float(rng.choice([0.5, 1, 2, 1.5], p=[0.6, 0.25, 0.08, 0.07]))
        if rng.random() < 0.12:
            at += size
            continue
        move = int(rng.choice([0, 1, 2, 3, 4, 5, 7], p=[0.07, 0.25, 0.3, 0.14, 0.1, 0.08, 0.06]))
        down = rng.random() < 0.5 + 0.4 * (pitch - middle) / max(1, high - middle)
        pitch = int(np.clip(pitch + (-move if down else move), low, high))
        notes.append(_human(rng, at, size, swing, beat, pitch))
        at += size
    return _articulated([replace(n, onset_s=n.onset_s + 0.5) for n in notes], seed, plucked)


_NEAR_S = 0.06


def _articulated(line: list[Played], seed: int, plucked: bool) -> list[Played]:
    """Nobody can slur a note to itself: a pitch that comes again is tongued, bowed or struck anew.

    A hard tongue stops the sound for 20 to 60 ms; a legato tongue lets it fall by 6 to 15 dB for 15
    to 40 ms; a string that is struck again is touched for 2 to 15 ms. Common practice, no source.
    """
    rng = np.random.default_rng((seed, 1))
    out = line[:1]
    for before, note in pairwise(line):
        close = note.onset_s - before.onset_s - before.length_s < _NEAR_S
        if note.midi == before.midi and close:
            if plucked:
                damped = 60.0, float(rng.uniform(0.002, 0.015))
            elif rng.random() < 0.5:
                damped = 60.0, float(rng.uniform(0.02, 0.06))
            else:
                damped = float(rng.uniform(6, 15)), float(rng.uniform(0.015, 0.04))
            note = replace(note, slurred=False, damped=damped)
        out.append(note)
    return out


def repeating(
    seed: int, bpm: float, low: int, high: int, count: int = 24, plucked: bool = False
) -> list[Played]:
    """A line in which every second note comes again, once or more, in eighths and quarters; here
    and there a long note with vibrato or a swell, which is one note."""
    rng = np.random.default_rng((seed, 2))
    beat = 60 / bpm
    at, pitch, line = 0.5, (low + high) // 2, list[Played]()
    while len(line) < count:
        move = int(rng.integers(1, 6)) * (1 if rng.random() < 0.5 else -1)
        pitch = pitch + move if low <= pitch + move <= high else pitch - move
        if rng.random() < 0.25:
            held = float(rng.uniform(0.8, 1.6))
            line.append(replace(Played(at, held, pitch), shape=_shape(rng, plucked)))
            at += held + 0.1
            continue
        for _ in range(int(rng.choice([1, 2, 3, 4], p=[0.3, 0.4, 0.2, 0.1]))):
            slot = max(0.14, beat * float(rng.choice([0.5, 1.0], p=[0.7, 0.3])))
            slurred = bool(rng.random() < 0.3)
            line.append(Played(at, slot * 0.97, pitch, float(rng.uniform(0.5, 1)), slurred))
            at += slot + float(rng.normal(0, 0.01))
    return _articulated(line, seed, plucked)


def _shape(rng: np.random.Generator, plucked: bool) -> Shape:
    """Vibrato by pitch and level, or a swell; a plucked string has no swell."""
    if plucked or rng.random() < 0.5:
        shake = float(rng.uniform(0, 4)) * (not plucked)
        return Shape(float(rng.uniform(15, 50)), shake, float(rng.uniform(4.5, 6.5)))
    return Shape(swell_db=float(rng.uniform(6, 14)) * (1 if rng.random() < 0.5 else -1))


def _human(
    rng: np.random.Generator, at: float, size: float, swing: float, beat: float, pitch: int
) -> Played:
    def seconds(where: float) -> float:
        whole, part = divmod(where, 1.0)
        return beat * (
            whole + (part * 2 * swing if part < 0.5 else swing + (part - 0.5) * 2 * (1 - swing))
        )

    onset = max(0.0, seconds(at) + rng.normal(0.012, 0.012))
    length = (seconds(at + size) - seconds(at)) * rng.uniform(0.7, 0.98)
    ghost = rng.random() < 0.06
    velocity = rng.uniform(0.25, 0.4) if ghost else rng.uniform(0.6, 1.0)
    return Played(onset, max(0.05, length), pitch, velocity, bool(rng.random() < 0.3))


# ---- rooms

CONDITIONS = (
    "clean",
    "noise",
    "reverb",
    "phone",
    "mp3 40",
    "mp3 128",
    "bleed -20",
    "bleed -12",
    "bleed -6",
)


def through(condition: str, samples: Wave, seed: int, band: Wave | None = None) -> Wave:
    """The take as a microphone in that room would hear it."""
    rng = np.random.default_rng(seed)
    if condition == "clean":
        return samples + np.float32(1e-4) * rng.standard_normal(len(samples)).astype(np.float32)
    if condition == "noise":
        return under(samples, _pink(rng, len(samples)), -25.0)
    if condition == "reverb":
        return _reverb(rng, samples, 0.9, 0.35)
    if condition == "phone":
        return _phone(rng, samples)
    if condition.startswith("mp3"):
        return _squeezed(samples, int(condition.split()[1]))
    if band is None:
        raise ValueError(f"{condition} needs a band")
    return under(samples, _loudspeaker(rng, band), float(condition.split()[1]))


def under(samples: Wave, other: Wave, gain_db: float) -> Wave:
    """Mix another sound in at so many dB relative to the take's own level."""
    mixed = np.zeros(len(samples), dtype=np.float32)
    mixed[: len(other)] = other[: len(samples)]
    own, its = (float(np.sqrt(np.mean(np.square(x[np.abs(x) > 1e-4])))) for x in (samples, mixed))
    return np.asarray(samples + mixed * (own / its) * 10 ** (gain_db / 20), dtype=np.float32)


def _pink(rng: np.random.Generator, count: int) -> Wave:
    spectrum = np.fft.rfft(rng.standard_normal(count))
    spectrum /= np.sqrt(np.arange(1, len(spectrum) + 1))
    return np.fft.irfft(spectrum, count).astype(np.float32)


def _reverb(rng: np.random.Generator, samples: Wave, seconds: float, wet: float) -> Wave:
    count = int(seconds * RATE)
    tail = rng.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    tail[: int(0.008 * RATE)] = 0
    tail /= np.sqrt(np.sum(tail**2))
    echo = fftconvolve(samples, tail)[: len(samples)]
    return np.asarray(samples + wet * 2 * echo, dtype=np.float32)


def _loudspeaker(rng: np.random.Generator, band: Wave) -> Wave:
    """The play-along from a small loudspeaker across a room."""
    box = butter(2, [110, 9000], "bandpass", fs=RATE, output="sos")
    return _reverb(rng, np.asarray(sosfilt(box, band), dtype=np.float32), 0.3, 0.12)


def _phone(rng: np.random.Generator, samples: Wave) -> Wave:
    """A small microphone at some distance: room, no bass, levelled, a little noise, 16 kHz."""
    wet = _reverb(rng, samples, 0.4, 0.2)
    band = butter(2, [300, 6000], "bandpass", fs=RATE, output="sos")
    thin = sosfilt(band, wet).astype(np.float32)
    level = np.sqrt(np.maximum(fftconvolve(thin**2, np.ones(4410) / 4410, "same"), 1e-8))
    squeezed = thin / level**0.4
    squeezed /= np.abs(squeezed).max()
    noisy = np.tanh(2 * squeezed) / 2 + 0.004 * rng.standard_normal(len(squeezed))
    return np.asarray(resample_poly(resample_poly(noisy, 160, 441), 441, 160), dtype=np.float32)


def _squeezed(samples: Wave, kbit: int) -> Wave:
    """Through MP3 at so many kilobits a second and back; what comes out lags a little."""
    held = io.BytesIO()
    soundfile.write(
        held,
        np.clip(samples, -1, 1),
        RATE,
        format="MP3",
        subtype="MPEG_LAYER_III",
        bitrate_mode="CONSTANT",
        compression_level=(320 - kbit) / 288,  # libsndfile: from 320 kbit/s at 0 to 32 at 1
    )
    held.seek(0)
    return np.asarray(soundfile.read(held, dtype="float32")[0], dtype=np.float32)


def backing(seed: int, bpm: float, bars: int, roots: Iterable[int] = (41, 46, 41, 36)) -> Wave:
    """A rhythm section by synthesis: walking bass, chords, ride and a one-bar count-in."""
    rng = np.random.default_rng(seed)
    beat = 60 / bpm
    out = np.zeros(int(((bars + 1) * 4 * beat + 1) * RATE), dtype=np.float32)
    bass, keys = synthetic_bank("plucked", seed), synthetic_bank("plucked", seed + 1)
    cycle = list(roots)

    def lay(wave: Wave, at_s: float, gain: float) -> None:
        begin = int(at_s * RATE)
        out[begin : begin + len(wave)] += gain * wave[: len(out) - begin]

    for tick in range(4):
        lay(_hit(rng, 0.03, 2500), tick * beat, 0.8)
    for at in range(4, (bars + 1) * 4):
        root = cycle[(at // 4 - 1) % len(cycle)]
        lay(bass(root + (0, 4, 7, 10)[at % 4], beat * 0.9, 0.9, False), at * beat, 0.9)
        lay(_hit(rng, 0.12, 6000), at * beat, 0.25)
        if at % 4 in (0, 2) or rng.random() < 0.2:
            late = 0.66 * beat if rng.random() < 0.4 else 0.0
            for tone in (16, 22, 26):
                lay(keys(root + tone, beat * 0.7, 0.6, False), at * beat + late, 0.35)
    return out


def _hit(rng: np.random.Generator, seconds: float, above_hz: float) -> Wave:
    count = int(seconds * RATE)
    noise = rng.standard_normal(count) * np.exp(-5 * np.arange(count) / count)
    return np.asarray(
        sosfilt(butter(2, above_hz, "high", fs=RATE, output="sos"), noise), np.float32
    )
