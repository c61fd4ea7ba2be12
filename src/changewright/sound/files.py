"""Write stems and their mix to a folder, so that the mix on disk is the exact sum of the stems.

Stems that fit in memory are written by :func:`write_stems`; hours of them are sounded and written a
stretch at a time by :func:`stream_stems`, to the same bytes.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from changewright.errors import UnknownName
from changewright.music.performance import Performance
from changewright.sound._soundfile import Writer
from changewright.sound.bank import BANK_RATE, NoteBank
from changewright.sound.levelling import is_mono, levelling
from changewright.sound.loudness import Loudness, Meter
from changewright.sound.stems import Stems, length_of, tracks_of

__all__ = ["FORMATS", "stream_stems", "write_stems", "write_take"]

FORMATS = ("flac", "wav", "ogg")
"""What stems can be written as. Two runs give the same bytes for FLAC and WAV; Ogg carries a
serial number that differs."""

_MIX = "mix"
_BLOCK = 4 * BANK_RATE
_FULL = 2**15

_Block = Mapping[str, NDArray[np.float32]]


def write_stems(stems: Stems, folder: Path, format: str = "flac") -> tuple[Path, ...]:
    """Write one file a stem and ``mix``; returns the paths, the mix last.

    Samples are rounded to 16 bits once, and the mix is the sum of the rounded stems.
    Raises :class:`UnknownName` for a format that we don't write.
    """
    with _Files(tuple(stems), folder, format) as files:
        for at in range(0, stems.frames, _BLOCK):
            files.add({name: stems[name][at : at + _BLOCK] for name in stems})
    return files.paths


def stream_stems(
    performance: Performance, folder: Path, format: str = "flac"
) -> tuple[tuple[Path, ...], Loudness]:
    """Sound a performance of any length and write it as it is sounded, in bounded memory.

    It is sounded twice: once to measure how loud it is, once to write it. Returns the paths and
    the loudness; the files are those that :func:`write_stems` would write.
    """
    meter = Meter()
    for block in _blocks(performance):
        meter.add(_summed(block).T)
    level = levelling(meter)
    names = tuple(part.name for part in performance.parts)
    with _Files(names, folder, format) as files:
        for number, block in enumerate(_blocks(performance)):
            start = number * _BLOCK
            files.add({name: level.applied(stem, start) for name, stem in block.items()})
    return files.paths, level.loudness


def write_take(path: Path, audio: NDArray[np.float32], rate: int = BANK_RATE) -> Path:
    """Write one recording as a WAV file of two channels; ``audio`` has shape (frames, 2)."""
    with Writer(path, rate, "wav") as file:
        file.write(_rounded(audio))
    return path


def _rounded(audio: NDArray[np.float32]) -> NDArray[np.int16]:
    """16-bit samples, the nearest."""
    one = audio[:, :1] if is_mono(audio) else audio
    whole = np.rint(np.clip(one * _FULL, -_FULL, _FULL - 1)).astype(np.int16)
    return np.ascontiguousarray(np.broadcast_to(whole, audio.shape))


def _blocks(performance: Performance) -> Iterator[_Block]:
    bank, tracks = NoteBank(), tracks_of(performance)
    length = length_of(performance, tracks)
    for at in range(0, length, _BLOCK):
        stop = min(at + _BLOCK, length)
        yield {track.part.name: track.block(at, stop, bank).T for track in tracks}


def _summed(block: _Block) -> NDArray[np.float32]:
    stems = list(block.values())
    total = np.array(stems[0]) if stems else np.zeros((0, 2), dtype=np.float32)
    for stem in stems[1:]:
        total += stem
    return total


class _Files:
    """One file a stem and one for the mix, written side by side."""

    def __init__(self, names: Sequence[str], folder: Path, format: str) -> None:
        if format not in FORMATS:
            raise UnknownName("audio format", format, FORMATS)
        folder.mkdir(parents=True, exist_ok=True)
        self.paths = tuple(folder / f"{name}.{format}" for name in (*names, _MIX))
        self._names, self._format = names, format
        self._open = ExitStack()

    def __enter__(self) -> "_Files":
        made = [Writer(path, BANK_RATE, self._format) for path in self.paths]
        self._files = [self._open.enter_context(file) for file in made]
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._open.close()

    def add(self, block: _Block) -> None:
        """Write the next frames of every stem, and their sum."""
        total: NDArray[np.int32] | None = None
        for name, file in zip(self._names, self._files, strict=False):
            whole = _rounded(block[name])
            total = whole.astype(np.int32) if total is None else total + whole
            file.write(whole)
        if total is not None:
            self._files[-1].write(total.clip(-_FULL, _FULL - 1).astype(np.int16))
