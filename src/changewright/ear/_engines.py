"""The two networks that listen, each behind one call, loaded when first asked.

Each runs on one thread; who listens may ask both at a time. The fake in
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
    "ONSET_WINDOW",
    "PITCH_AHEAD",
    "PITCH_BEHIND",
    "PITCH_HOP",
    "PITCH_LIMITS_HZ",
    "PITCH_RATE",
    "Engines",
    "Floats",
    "real_engines",
]

Floats = NDArray[np.float32]

PITCH_RATE, PITCH_HOP = 16_000, 256
PITCH_BEHIND, PITCH_AHEAD = 11, 10
"""Frames before and after a frame that its pitch depends on."""

PITCH_LIMITS_HZ = (46.875, 2093.75)
ONSET_RATE, ONSET_HOP = 22_050, 256
ONSET_WINDOW = 43_844
"""Samples that the onset model takes at once: two seconds less one hop."""


class Engines(Protocol):
    """What the pipeline asks of its listeners."""

    def pitch(self, samples: Floats, low_hz: float, high_hz: float) -> tuple[Floats, Floats]:
        """Fundamental in hertz and voicing in 0..1, one frame each 16 ms of 16 kHz samples."""
        ...

    def posteriors(self, window: Floats) -> tuple[Floats, Floats]:
        """Chance of an onset and of a sounding note in a window of :data:`ONSET_WINDOW` samples:
        (frames, 88 keys from A0), a frame each 256 samples at 22.05 kHz."""
        ...


class _Real:
    def pitch(self, samples: Floats, low_hz: float, high_hz: float) -> tuple[Floats, Floats]:
        low, high = PITCH_LIMITS_HZ
        found = _pitch_detector().detect(
            samples, PITCH_RATE, fmin=max(low, low_hz), fmax=min(high, high_hz)
        )
        return found.pitch_hz.astype(np.float32), found.confidence.astype(np.float32)

    def posteriors(self, window: Floats) -> tuple[Floats, Floats]:
        onset, note = _onset_session().run(["onset", "note"], {"samples": window})
        return onset, note


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
    with as_file(files("changewright.ear").joinpath("models/onsets.onnx")) as model:
        if not model.is_file():
            raise EngineError("the onset model is missing from this installation: install again")
        return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])


def real_engines() -> Engines:
    """The engines that ship with the package."""
    return _Real()
