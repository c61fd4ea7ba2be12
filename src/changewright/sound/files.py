"""Write stems and their mix to a folder, so that the mix on disk is the exact sum of the stems."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from changewright.errors import UnknownName
from changewright.sound._soundfile import Writer
from changewright.sound.bank import BANK_RATE
from changewright.sound.stems import Stems

__all__ = ["FORMATS", "write_stems", "write_take"]

FORMATS = ("flac", "wav", "ogg")
"""What stems can be written as. Two runs give the same bytes for FLAC and WAV; Ogg carries a
serial number that differs."""

MIX = "mix"


def write_stems(stems: Stems, folder: Path, format: str = "flac") -> tuple[Path, ...]:
    """Write one file a stem and ``mix``; returns the paths, the mix last.

    Samples are rounded to 16 bits once, and the mix is the sum of the rounded stems.
    Raises :class:`UnknownName` for a format that we don't write.
    """
    if format not in FORMATS:
        raise UnknownName("audio format", format, FORMATS)
    folder.mkdir(parents=True, exist_ok=True)
    total = np.zeros((stems.frames, 2), dtype=np.int32)
    paths = []
    for name in stems:
        whole = rounded(stems[name])
        total += whole
        paths.append(_written(folder / f"{name}.{format}", whole, stems.rate, format))
    mix = total.clip(-(2**15), 2**15 - 1).astype(np.int16)
    return (*paths, _written(folder / f"{MIX}.{format}", mix, stems.rate, format))


def write_take(path: Path, audio: NDArray[np.float32], rate: int = BANK_RATE) -> Path:
    """Write one recording as a WAV file of two channels; ``audio`` has shape (frames, 2)."""
    return _written(path, rounded(audio), rate, "wav")


def write_sound(path: Path, audio: NDArray[np.float32], rate: int) -> Path:
    """Write one recording of shape (frames, 2); its ending says the format."""
    format = path.suffix.removeprefix(".").lower()
    if format not in FORMATS:
        raise UnknownName("audio format", format, FORMATS)
    return _written(path, rounded(audio), rate, format)


def rounded(audio: NDArray[np.float32]) -> NDArray[np.int16]:
    """16-bit samples, the nearest."""
    return np.rint(np.clip(audio * 2**15, -(2**15), 2**15 - 1)).astype(np.int16)


def _written(path: Path, frames: NDArray[np.int16], rate: int, format: str) -> Path:
    with Writer(path, rate, format) as file:
        file.write(frames)
    return path
