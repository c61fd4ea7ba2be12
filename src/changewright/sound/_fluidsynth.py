"""FluidSynth as a guest: its shared library through ctypes, loaded only when a user asks for it.

Used to build the note bank and to play a user's own SoundFont. Nothing here is needed for the
sound that the package brings along.
"""

import ctypes
from collections.abc import Iterable
from ctypes.util import find_library
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from changewright.errors import EngineError, InputError

__all__ = ["Synth", "is_installed"]

_NAMES = ("fluidsynth", "libfluidsynth-3", "libfluidsynth")
_POLYPHONY = 256


def _library() -> Any:
    found = next((path for name in _NAMES if (path := find_library(name))), None)
    if found is None:
        raise InputError(
            "FluidSynth is not installed, so a SoundFont can't be played",
            remedy="Install it (Debian: apt install fluidsynth), or leave the SoundFont out.",
        )
    library = ctypes.CDLL(found)
    pointer = ctypes.c_void_p
    library.new_fluid_settings.restype = pointer
    library.new_fluid_synth.restype = pointer
    library.new_fluid_synth.argtypes = [pointer]
    library.delete_fluid_synth.argtypes = [pointer]
    library.delete_fluid_settings.argtypes = [pointer]
    library.fluid_settings_setnum.argtypes = [pointer, ctypes.c_char_p, ctypes.c_double]
    library.fluid_settings_setint.argtypes = [pointer, ctypes.c_char_p, ctypes.c_int]
    library.fluid_synth_sfload.argtypes = [pointer, ctypes.c_char_p, ctypes.c_int]
    library.fluid_synth_program_select.argtypes = [pointer, *[ctypes.c_int] * 4]
    library.fluid_synth_noteon.argtypes = [pointer, *[ctypes.c_int] * 3]
    library.fluid_synth_noteoff.argtypes = [pointer, *[ctypes.c_int] * 2]
    library.fluid_synth_all_sounds_off.argtypes = [pointer, ctypes.c_int]
    library.fluid_synth_write_float.argtypes = [
        *(pointer, ctypes.c_int),
        *(pointer, ctypes.c_int, ctypes.c_int) * 2,
    ]
    return library


def is_installed() -> bool:
    """Tell whether FluidSynth's library can be found on this machine."""
    return any(find_library(name) for name in _NAMES)


class Synth:
    """A fresh FluidSynth with one SoundFont, without reverb or chorus; use it in a ``with``.

    PITFALL: one synth reused for a second performance is not deterministic; make a fresh one.
    """

    def __init__(self, soundfont: Path, *, rate: int = 48_000, gain: float = 0.5) -> None:
        if not soundfont.is_file():
            raise InputError(
                f"there is no SoundFont at {soundfont}", remedy="Check the path of the file."
            )
        self._lib = _library()
        self._settings = self._lib.new_fluid_settings()
        self._lib.fluid_settings_setnum(self._settings, b"synth.sample-rate", float(rate))
        self._lib.fluid_settings_setnum(self._settings, b"synth.gain", gain)
        self._lib.fluid_settings_setint(self._settings, b"synth.reverb.active", 0)
        self._lib.fluid_settings_setint(self._settings, b"synth.chorus.active", 0)
        self._lib.fluid_settings_setint(self._settings, b"synth.dynamic-sample-loading", 1)
        self._lib.fluid_settings_setint(self._settings, b"synth.polyphony", _POLYPHONY)
        self._synth = self._lib.new_fluid_synth(self._settings)
        self._font = self._lib.fluid_synth_sfload(self._synth, str(soundfont).encode(), 0)
        if self._font < 0:
            self.__exit__(None, None, None)
            raise InputError(
                f"{soundfont} is not a SoundFont that FluidSynth can read",
                remedy="Give an .sf2 or .sf3 file.",
            )

    def __enter__(self) -> "Synth":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._lib.delete_fluid_synth(self._synth)
        self._lib.delete_fluid_settings(self._settings)

    def choose(self, channel: int, bank: int, program: int) -> None:
        """Give a channel an instrument; a drum kit lies in bank 128."""
        if self._lib.fluid_synth_program_select(self._synth, channel, self._font, bank, program):
            raise EngineError(f"the SoundFont has no program {program} in bank {bank}")

    def note_on(self, channel: int, midi: int, velocity: int) -> None:
        """Start a note at the next frame asked for."""
        self._lib.fluid_synth_noteon(self._synth, channel, midi, velocity)

    def note_off(self, channel: int, midi: int) -> None:
        """Release a note."""
        self._lib.fluid_synth_noteoff(self._synth, channel, midi)

    def silence(self) -> None:
        """Stop every note at once.

        PITFALL: a system reset drops the program too, and samples loaded on demand with it.
        """
        self._lib.fluid_synth_all_sounds_off(self._synth, -1)

    def frames(self, count: int) -> NDArray[np.float32]:
        """The next ``count`` frames, shape (count, 2)."""
        out = np.zeros((max(count, 0), 2), dtype=np.float32)
        if count > 0:
            at = out.ctypes.data_as(ctypes.c_void_p)
            if self._lib.fluid_synth_write_float(self._synth, count, at, 0, 2, at, 1, 2):
                raise EngineError("FluidSynth stopped writing")
        return out

    def play(
        self, notes: Iterable[tuple[int, int, int, int, int]], length: int
    ) -> NDArray[np.float32]:
        """Perform (onset frame, frames held, channel, MIDI note, velocity) rows; shape
        (length, 2). FluidSynth starts notes at multiples of 64 frames."""
        moves: list[tuple[int, int, int, int, int]] = []
        for onset, held, channel, midi, velocity in notes:
            moves.append((onset, 1, channel, midi, velocity))
            moves.append((onset + held, 0, channel, midi, 0))
        out = np.zeros((length, 2), dtype=np.float32)
        at = 0
        for frame, begins, channel, midi, velocity in sorted(m for m in moves if m[0] < length):
            out[at:frame] = self.frames(frame - at)
            at = frame
            if begins:
                self.note_on(channel, midi, velocity)
            else:
                self.note_off(channel, midi)
        out[at:] = self.frames(length - at)
        return out
