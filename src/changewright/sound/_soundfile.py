"""Audio files through soundfile, imported only when one is read or written."""

from io import BytesIO
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

__all__ = ["Writer", "decode"]

_KINDS = {"flac": ("FLAC", "PCM_16"), "wav": ("WAV", "PCM_16"), "ogg": ("OGG", "VORBIS")}


def decode(blob: bytes, frames: int | None = None) -> NDArray[np.float32]:
    """Decode a file held in memory, or its first ``frames``; shape (channels, frames).

    PITFALL: seeking in Ogg Vorbis is not exact in libsndfile; notes are read from their start.
    """
    import soundfile

    with soundfile.SoundFile(BytesIO(blob)) as file:
        audio = file.read(-1 if frames is None else frames, dtype="float32", always_2d=True)
    return np.ascontiguousarray(audio.T)


class Writer:
    """A file being written, a second at a time.

    PITFALL: writing two minutes of Vorbis in one call crashes libsndfile, so nothing longer than a
    second is ever passed on.
    """

    def __init__(self, path: Path, rate: int, format: str) -> None:
        import soundfile

        kind, subtype = _KINDS[format]
        self._rate = rate
        self._file = soundfile.SoundFile(path, "w", rate, 2, format=kind, subtype=subtype)

    def __enter__(self) -> "Writer":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()

    def write(self, frames: NDArray[np.int16]) -> None:
        """Append frames of shape (count, 2)."""
        for at in range(0, len(frames), self._rate):
            self._file.write(frames[at : at + self._rate])
