"""Recordings: read any common file into one channel of samples, or say why not."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from changewright.ear import _sound_files
from changewright.ear._streams import THINS, Resampler
from changewright.ear._tape import pieces
from changewright.errors import Place, TakeError

__all__ = ["LONGEST_S", "Audio", "Samples", "load_audio"]

Samples = NDArray[np.float32]
"""One channel, full scale at 1, as float32."""

Kept = NDArray[np.float32 | np.float16]

BLOCK = 1 << 19
"""Samples in a stretch of :meth:`Audio.blocks`: about twenty seconds."""

LONG_S = 600.0  # a longer one is kept in half precision: 72 dB under the sound itself
LONGEST_S = 3900.0
"""The longest recording that is read, seconds: an hour and a little."""

RATES_HZ = (8_000, 96_000)
MOST_CHANNELS = 8
SILENT_PEAK = 1e-4  # -80 dB under full scale: below any microphone that is switched on
LOUDEST = 1e4  # a float file may pass full scale, but not by 80 dB


@dataclass(frozen=True, slots=True, eq=False)
class Audio:
    """One microphone's worth of sound: mono samples at ``rate`` hertz.

    They are kept as float32, or as float16 for a long recording; whoever can do with a stretch at
    a time asks for :meth:`between` or :meth:`blocks`.
    """

    kept: Kept
    rate: int

    def __post_init__(self) -> None:
        if self.kept.ndim != 1 or self.kept.dtype not in (np.float32, np.float16):
            raise ValueError("audio is one channel of float32 or float16")
        if not RATES_HZ[0] <= self.rate <= RATES_HZ[1]:
            raise ValueError(f"a sample rate lies between {RATES_HZ}, not {self.rate}")
        if not all(np.isfinite(block).all() for block in pieces(self.kept, BLOCK)):
            raise ValueError("samples are finite numbers")

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Audio):
            return NotImplemented
        return self.rate == other.rate and np.array_equal(self.kept, other.kept)

    def __len__(self) -> int:
        return len(self.kept)

    @property
    def samples(self) -> Samples:
        """All of it."""
        return self.between(0, len(self))

    def between(self, first: int, last: int) -> Samples:
        """The samples from ``first`` to ``last``, half-open, as far as they are there."""
        return self.kept[first:last].astype(np.float32, copy=False)

    def blocks(self) -> Iterator[Samples]:
        """All of it, a stretch at a time."""
        return (block.astype(np.float32, copy=False) for block in pieces(self.kept, BLOCK))

    @property
    def peak(self) -> float:
        """The largest magnitude."""
        return max((float(np.abs(block).max()) for block in self.blocks()), default=0.0)

    @property
    def length_s(self) -> float:
        """How long it lasts, seconds."""
        return len(self) / self.rate


def load_audio(path: Path | str) -> Audio:
    """Read a recording (WAV, FLAC, Ogg, MP3; M4A and WebM with the extra ``phone``; 8 to 96 kHz;
    stereo is mixed to mono).

    Rates of 44.1 kHz and above are halved (or quartered) while reading, so that an hour fits in
    a few hundred megabytes; nothing above 8 kHz tells a note's pitch or start. The header is never
    believed about length. Raises :class:`TakeError` for anything that can't be judged: no audio
    file, cut off before the first sample, silent, not numbers, too long.
    """
    file = Path(path)
    if not file.is_file():
        raise _refused(file, "there is no such file", "Give the path of a recording.")
    try:
        with _sound_files.open_sound(file) as sound:
            _check_format(file, sound)
            audio, antiphase = _read(file, sound, None)
        if antiphase is not None:
            with _sound_files.open_sound(file) as sound:
                audio, _ = _read(file, sound, antiphase)
    except _sound_files.UnreadableSoundError as fault:
        raise _refused(
            file,
            f"this is not a recording that can be read ({fault})",
            "Export it as WAV, FLAC, Ogg or MP3 and try again.",
        ) from fault
    _check_heard(file, audio)
    return audio


def _check_format(file: Path, sound: _sound_files.Sound) -> None:
    low, high = RATES_HZ
    if not low <= sound.rate <= high:
        raise _refused(
            file,
            f"its sample rate is {sound.rate} Hz; rates from {low} to {high} Hz are heard",
            "Export it at 44100 or 48000 Hz.",
        )
    if not 1 <= sound.channels <= MOST_CHANNELS:
        raise _refused(
            file,
            f"it has {sound.channels} channels",
            "Export it as mono or stereo.",
        )


def _read(file: Path, sound: _sound_files.Sound, channel: int | None) -> tuple[Audio, int | None]:
    """Mix to mono (or keep one channel). Also say which channel to keep instead if the mix
    cancels itself out."""
    factor = _sound_files.decimation(sound.rate)
    halver = Resampler(factor, 1, THINS)
    mixed = _Growing()
    frames = 0
    energy = np.zeros(sound.channels + 1)
    for block in _finite_blocks(file, sound):
        frames += len(block)
        mono = _mono(block) if channel is None else block[:, channel]
        energy += [float(np.einsum("i,i", x, x)) for x in (*block.T, mono)]
        if frames > LONG_S * sound.rate >= frames - len(block):
            mixed.halve()
        mixed.add(halver.push(mono))
        if frames > LONGEST_S * sound.rate:
            raise _refused(
                file,
                f"it lasts longer than {LONGEST_S / 60:.0f} minutes",
                "Cut out the chorus you want to be heard.",
            )
    mixed.add(halver.flush())
    samples = mixed.first(-(-frames // factor))
    loudest = int(np.argmax(energy[:-1]))
    cancels = channel is None and energy[-1] < 0.1 * energy[loudest]
    return Audio(samples, sound.rate // factor), loudest if cancels else None


def _mono(block: Samples) -> Samples:
    """PITFALL: numpy's own mean over so short an axis takes seventeen times as long."""
    total = block[:, 0].copy()
    for channel in range(1, block.shape[1]):
        total += block[:, channel]
    return total / np.float32(block.shape[1])


class _Growing:
    """Samples that are read bit by bit: they grow in place, so that they are never there twice."""

    def __init__(self) -> None:
        self._kept: Kept = np.zeros(0, dtype=np.float32)
        self._count = 0

    def add(self, block: Samples) -> None:
        """Go on."""
        end = self._count + len(block)
        if end > len(self._kept):
            self._kept.resize(end + BLOCK, refcheck=False)
        self._kept[self._count : end] = block
        self._count = end

    def halve(self) -> None:
        """Keep them in half precision from now on."""
        self._kept = self._kept.astype(np.float16)

    def first(self, count: int) -> Kept:
        """So many of them."""
        return self._kept[: min(count, self._count)]


def _finite_blocks(file: Path, sound: _sound_files.Sound) -> Iterator[Samples]:
    at = 0
    for block in sound.blocks():
        if not (len(block) == 0 or (block.min() >= -LOUDEST and block.max() <= LOUDEST)):
            bad = ~(np.abs(block) <= LOUDEST).all(axis=1)
            where = (at + int(np.argmax(bad))) / sound.rate
            raise _refused(
                file,
                f"its samples stop being numbers at {where:.2f} s",
                "The file is damaged: export it again.",
            )
        at += len(block)
        yield block


def _check_heard(file: Path, audio: Audio) -> None:
    if len(audio) == 0:
        raise _refused(file, "it holds no sound at all (length zero)", "Record it again.")
    if audio.peak < SILENT_PEAK:
        raise _refused(
            file,
            f"its {audio.length_s:.1f} s are silent",
            "Check the microphone and its level, then record again.",
        )


def _refused(file: Path, what: str, remedy: str) -> TakeError:
    return TakeError(what, where=Place(file=str(file)), remedy=remedy)
