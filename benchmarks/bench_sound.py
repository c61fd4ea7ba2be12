"""How fast and how truly a band sounds, beside the synthesiser that the notes came from."""

from collections.abc import Iterable, Iterator
from hashlib import sha256
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from statistics import fmean
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from benchmarks.bench_band import blues
from benchmarks.figure import Figure, core_ms
from changewright.band.accompany import accompany
from changewright.music.performance import Event, Part, Performance
from changewright.sound._fluidsynth import Synth, is_installed
from changewright.sound.bank import BANK_RATE, NoteBank
from changewright.sound.files import write_stems
from changewright.sound.kept import StemShelf
from changewright.sound.mix import frame_of
from changewright.sound.stems import render, synthesise

__all__ = ["FONT", "apart_db", "by_synthesiser", "comping_apart", "figures", "quartet"]

FONT = Path("/usr/share/sounds/sf3/MuseScore_General_Lite.sf3")
_BPM = 140.0
_EDGES_HZ = [60 * 2 ** (k / 3) for k in range(24)]  # thirds of an octave


def figures() -> Iterable[Figure]:
    """Three stems, a count-in and a line: speed cold and warm, end to end, exactness, likeness.

    Times are of one core (processor time), so that a busy machine doesn't change them.
    """
    played = quartet()
    length_ms = played.length_s * 1000
    bank = NoteBank()
    cold = core_ms(lambda: synthesise(played, NoteBank()))
    warm = core_ms(lambda: synthesise(played, bank))
    peer = _peer_ms(played)
    beside = ("FluidSynth", length_ms / peer) if peer else ("", None)
    yield Figure("sound.cold_x_realtime", length_ms / cold, "x", *beside)
    yield Figure("sound.warm_x_realtime", length_ms / warm, "x", *beside)
    if peer:
        yield from likeness(played)
    yield from end_to_end(played)
    yield found_again(played)
    yield Figure("sound.onset_error_frames", onset_error(), "frames")
    yield Figure("sound.package_audio", bank_bytes() / 1e6, "MB")


def _peer_ms(played: Performance) -> float | None:
    """The synthesiser on the same events, its SoundFont already loaded."""
    if not (is_installed() and FONT.is_file()):
        return None
    with Synth(FONT) as synth:
        return core_ms(lambda: mixed_by(synth, played), 3)


def quartet(seed: int = 1) -> Performance:
    """A blues of 36 bars: bass, comping, drums, and a line of eighths."""
    band = accompany(blues(), bpm=_BPM, choruses=3, seed=seed, level=5)
    eighth = 30 / _BPM
    steps = (0, 3, 5, 6, 7, 10, 12, 10, 7, 6, 5, 3)
    line = tuple(
        Event(2 + k * eighth, eighth * 0.9, 58 + steps[k % 12], 70 + k % 3 * 8)
        for k in range(232)
        if k % 8 < 6
    )
    return Performance((*band.parts, Part("line", 66, line)), band.length_s)


def end_to_end(played: Performance) -> Iterator[Figure]:
    """Sounding, measuring loudness and writing FLAC; and whether two runs write the same."""
    with TemporaryDirectory() as folder:
        spent = core_ms(lambda: write_stems(render(played), Path(folder)), 3)
        yield Figure("sound.end_to_end_x_realtime", played.length_s * 1000 / spent, "x")
        first = _digests(Path(folder))
        write_stems(render(played), Path(folder))
        yield Figure(
            "sound.files_that_differ",
            float(sum(first[k] != d for k, d in _digests(Path(folder)).items())),
            "files",
        )
    stems = render(played)
    apart = np.abs(sum(stems[name] for name in stems) - stems.mix).max()
    yield Figure("sound.mix_less_stems", float(apart), "full scale")
    yield Figure("sound.loudness", stems.loudness.lufs, "LUFS")
    yield Figure("sound.true_peak", stems.loudness.true_peak_dbtp, "dBTP")


def found_again(played: Performance) -> Figure:
    """The same stems from the shelf, checked while they are copied."""
    with TemporaryDirectory() as folder:
        shelf = StemShelf(Path(folder) / "shelf")
        spent = core_ms(lambda: shelf.write(played, Path(folder) / "out"), 3)
    return Figure("sound.found_again_x_realtime", played.length_s * 1000 / spent, "x")


def bank_bytes() -> int:
    """What the notes and words of the package take."""
    bank = files("changewright.sound").joinpath("bank")
    return sum(len(entry.read_bytes()) for entry in bank.iterdir())


def onset_error() -> float:
    """The largest distance of forty clicks from their computed frames."""
    onsets = [0.2 + 0.3711 * k + k * k / 997 for k in range(40)]
    events = tuple(Event(at, 0.1, 37, 90) for at in onsets)
    stems = synthesise(Performance((Part("drums", 32, events, is_drums=True),), 60.0))
    audio = np.abs(stems["drums"][:, 0])
    worst = 0
    for at in onsets:
        frame = frame_of(at)
        near = audio[frame - 300 : frame + 3_000]
        worst = max(worst, abs(int(np.argmax(near >= 0.1 * near.max())) - 300))
    return float(worst)


def likeness(played: Performance) -> Iterator[Figure]:
    """How far each stem lies from the synthesiser's, after matching levels: third-octave levels
    in steps of 50 ms, mean absolute difference where the synthesiser is heard. Comping, whose
    chords differ most, is taken over four seeds."""
    ours, theirs = synthesise(played), by_synthesiser(played)
    for name in ("bass", "line"):
        yield Figure(f"sound.{name}_apart", apart_db(ours[name], theirs[name]), "dB")
    yield Figure("sound.comping_apart", fmean(comping_apart()), "dB")


def comping_apart() -> Iterator[float]:
    """The same for comping alone, in dB, seed by seed."""
    for seed in (1, 2, 3, 4):
        played = quartet(seed)
        comping = tuple(part for part in played.parts if part.name == "comping")
        alone = Performance(comping, played.length_s)
        yield apart_db(synthesise(alone)["comping"], by_synthesiser(alone)["comping"])


def apart_db(ours: NDArray[np.float32], theirs: NDArray[np.float32]) -> float:
    """Mean absolute difference in dB of short-time third-octave levels."""
    shared = min(len(ours), len(theirs))  # each dies away in its own time
    one, other = (x[:shared].mean(axis=1, dtype=np.float64) for x in (ours, theirs))
    one *= np.sqrt((other**2).sum() / (one**2).sum())
    a, b = _thirds(one), _thirds(other)
    heard = b > b.max() * 1e-5
    return float(np.abs(10 * np.log10(a[heard] / b[heard])).mean())


def _thirds(audio: NDArray[np.float64], step: int = BANK_RATE // 20) -> NDArray[np.float64]:
    rows = audio[: len(audio) // step * step].reshape(-1, step) * np.hanning(step)
    power = np.abs(np.fft.rfft(rows, axis=1)) ** 2
    hz = np.fft.rfftfreq(step, 1 / BANK_RATE)
    bands = pairwise(_EDGES_HZ)
    return np.stack([power[:, (hz >= a) & (hz < b)].sum(axis=1) for a, b in bands], 1) + 1e-12


def by_synthesiser(played: Performance) -> dict[str, NDArray[np.float32]]:
    """The same stems by FluidSynth from the SoundFont of the note bank, a fresh synth for each."""
    made = {}
    for part in played.parts:
        with Synth(FONT) as synth:
            made[part.name] = mixed_by(synth, Performance((part,), played.length_s))
    return made


def mixed_by(synth: Synth, played: Performance) -> NDArray[np.float32]:
    """All parts in one go by one synth, its SoundFont already loaded."""
    rows = []
    for number, part in enumerate(played.parts):
        channel = 9 if part.is_drums else number
        synth.choose(channel, 128 if part.is_drums else 0, part.program)
        rows += [
            (frame_of(e.onset_s), frame_of(e.duration_s), channel, e.midi, e.velocity)
            for e in part.events
        ]
    return synth.play(rows, frame_of(played.length_s + 2.5))


def _digests(folder: Path) -> dict[str, str]:
    return {p.name: sha256(p.read_bytes()).hexdigest() for p in folder.iterdir()}
