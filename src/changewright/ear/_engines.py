"""The two networks that listen, each behind one call, loaded when first asked.

Both run on one thread: takes are judged many at a time, one to a core. The fake in
:mod:`changewright.ear.fakes` answers the same two calls.
"""

from functools import cache
from importlib.resources import as_file, files
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from changewright.errors import EngineError

__all__ = [
    "ONSET_HOP",
    "ONSET_RATE",
    "PITCH_HOP",
    "PITCH_LIMITS_HZ",
    "PITCH_RATE",
    "Engines",
    "Floats",
    "real_engines",
]

Floats = NDArray[np.float32]

PITCH_RATE, PITCH_HOP = 16_000, 256
PITCH_LIMITS_HZ = (46.875, 2093.75)
ONSET_RATE, ONSET_HOP = 22_050, 256
_WINDOW = 43_844  # samples that the onset model takes at once: two seconds less one hop
_QUIET = 1e-3  # 54 dB under the working level
_EDGE = 15  # frames at a window's edge that the model can't see well


class Engines(Protocol):
    """What the pipeline asks of its listeners."""

    def pitch(self, samples: Floats, low_hz: float, high_hz: float) -> tuple[Floats, Floats]:
        """Fundamental in hertz and voicing in 0..1, one frame each 16 ms of 16 kHz samples."""
        ...

    def posteriors(self, samples: Floats) -> tuple[Floats, Floats]:
        """Chance of an onset and of a sounding note, (frames, 88 keys from A0), each 256
        samples at 22.05 kHz."""
        ...


class _Real:
    def pitch(self, samples: Floats, low_hz: float, high_hz: float) -> tuple[Floats, Floats]:
        low, high = PITCH_LIMITS_HZ
        found = _pitch_detector().detect(
            samples, PITCH_RATE, fmin=max(low, low_hz), fmax=min(high, high_hz)
        )
        return found.pitch_hz.astype(np.float32), found.confidence.astype(np.float32)

    def posteriors(self, samples: Floats) -> tuple[Floats, Floats]:
        """PITFALL: a window is not a whole number of hops long, so its frames must be stamped
        from the window's own start; here windows start on the hop grid, and drift can't add up."""
        frames = max(1, -(-len(samples) // ONSET_HOP))
        onsets = np.zeros((frames, 88), dtype=np.float32)
        notes = np.zeros((frames, 88), dtype=np.float32)
        step = _WINDOW // ONSET_HOP - 2 * _EDGE
        for start in range(0, frames, step):
            stop = min(frames, start + step)
            if _is_quiet(samples, start - _EDGE):
                continue
            onset, note = _windowed(samples, start - _EDGE)
            onsets[start:stop] = onset[_EDGE : _EDGE + stop - start]
            notes[start:stop] = note[_EDGE : _EDGE + stop - start]
        return onsets, notes


def _is_quiet(samples: Floats, frame: int) -> bool:
    """A window with next to nothing in it needs no network."""
    begin = frame * ONSET_HOP
    piece = samples[max(0, begin) : begin + _WINDOW]
    return len(piece) == 0 or float(np.abs(piece).max()) < _QUIET


def _windowed(samples: Floats, frame: int) -> tuple[Floats, Floats]:
    """Run the onset model on the window that starts at ``frame`` (it may start before 0)."""
    begin = frame * ONSET_HOP
    window = np.zeros((1, _WINDOW, 1), dtype=np.float32)
    piece = samples[max(0, begin) : begin + _WINDOW]
    offset = max(0, -begin)
    window[0, offset : offset + len(piece), 0] = piece
    session = _onset_session()
    outputs = ["StatefulPartitionedCall:2", "StatefulPartitionedCall:1"]
    onset, note = session.run(outputs, {session.get_inputs()[0].name: window})
    return onset[0], note[0]


@cache
def _pitch_detector() -> Any:
    from swift_f0 import SwiftF0

    return SwiftF0(threads=1, spin=False)


@cache
def _onset_session() -> Any:
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    with as_file(files("changewright.ear").joinpath("models/nmp.onnx")) as model:
        if not model.is_file():
            raise EngineError("the onset model is missing from this installation: install again")
        return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])


def real_engines() -> Engines:
    """The engines that ship with the package."""
    return _Real()
