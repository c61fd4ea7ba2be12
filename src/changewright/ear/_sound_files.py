"""Sound files behind one door: open, read in blocks, thin out high sample rates."""

from collections.abc import Iterator
from pathlib import Path
from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray

__all__ = ["Sound", "UnreadableSoundError", "decimation", "open_sound"]

BLOCK = 1 << 16


class UnreadableSoundError(Exception):
    """The decoder can't make sound of the file; the text is its reason."""


class Sound(Protocol):
    """An open recording. ``blocks`` yields arrays of shape (frames, channels)."""

    rate: int
    channels: int

    def blocks(self) -> Iterator[NDArray[np.float32]]: ...
    def __enter__(self) -> Self: ...
    def __exit__(self, *exc: object) -> None: ...


class _SoundFile:
    def __init__(self, path: Path) -> None:
        import soundfile

        self._fault = soundfile.SoundFileError
        try:
            self._file = soundfile.SoundFile(path)
        except (soundfile.SoundFileError, OSError, ValueError, TypeError) as fault:
            raise UnreadableSoundError(_reason(fault)) from fault
        self.rate = int(self._file.samplerate)
        self.channels = int(self._file.channels)

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        frames = max(1, BLOCK // max(1, self.channels))
        while True:
            try:
                block = self._file.read(frames, dtype="float32", always_2d=True)
            except (self._fault, RuntimeError, ValueError) as fault:
                raise UnreadableSoundError(_reason(fault)) from fault
            if len(block) == 0:
                return
            yield block

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self._file.close()


class _TelephoneFile:
    """What telephones and browsers record: AAC, Apple Lossless or Opus in an MP4 or WebM box.

    Only these boxes and codecs are let through to the media library, which knows hundreds.
    """

    CODECS = frozenset({"aac", "alac", "opus", "vorbis", "mp3"})

    def __init__(self, path: Path, box: str) -> None:
        try:
            import av
        except ImportError:
            raise UnreadableSoundError(
                "an M4A or WebM file; these are read where the extra `phone` is installed: "
                'pip install "changewright[phone]"'
            ) from None
        self._fault = (av.error.FFmpegError, ValueError, MemoryError)
        try:
            self._box = av.open(str(path), format=box, metadata_errors="replace")
        except (*self._fault, OSError) as fault:
            raise UnreadableSoundError(_media_reason(fault)) from fault
        streams = self._box.streams.audio
        if not streams or streams[0].codec_context.name not in self.CODECS:
            self._box.close()
            raise UnreadableSoundError("it holds no sound that can be read")
        self._stream = streams[0]
        self.rate = int(self._stream.codec_context.sample_rate)
        self.channels = int(self._stream.codec_context.channels)
        self._unpack = av.AudioResampler("flt", self._stream.codec_context.layout, self.rate)

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        try:
            for frame in self._box.decode(self._stream):
                for plain in self._unpack.resample(frame):
                    packed = plain.to_ndarray().astype(np.float32, copy=False)
                    yield packed.reshape(-1, self.channels)
        except self._fault as fault:
            raise UnreadableSoundError(_media_reason(fault)) from fault

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self._box.close()


def _media_reason(fault: Exception) -> str:
    return str(getattr(fault, "strerror", "") or fault).strip().rstrip(".") or "it is damaged"


def _telephone_box(path: Path) -> str | None:
    """The box that the first bytes show: ISO 14496-12 puts ``ftyp`` at 4; EBML (RFC 8794)."""
    with path.open("rb") as file:
        head = file.read(12)
    if head[4:8] == b"ftyp":
        return "mov"
    return "matroska" if head[:4] == b"\x1a\x45\xdf\xa3" else None


def _reason(fault: Exception) -> str:
    """The decoder's own words without the path, which the message names already."""
    text = str(getattr(fault, "error_string", "") or fault)
    return text.rsplit(": ", 1)[-1].strip().rstrip(".") or type(fault).__name__


def open_sound(path: Path) -> Sound:
    """Open a sound file; raises :class:`UnreadableSoundError`."""
    box = _telephone_box(path)
    return _SoundFile(path) if box is None else _TelephoneFile(path, box)


def decimation(rate: int) -> int:
    """How many samples become one: rates of 44.1 kHz and above come down to 22 to 32 kHz."""
    return 1 if rate < 44_100 else 2 if rate < 88_200 else 4
