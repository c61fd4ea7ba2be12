"""The note bank: single notes kept in the package, found by instrument, key and velocity.

Each note was rendered once by ``tools/build_note_bank.py``; the notice of the samples lies beside
them. Pitched notes are stored every second or third semitone and moved by at most two, as a
sampler does. Notes are decoded when first asked for and kept up to a fixed number of bytes.
"""

import json
from collections import OrderedDict
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache, cached_property
from importlib.resources import files
from io import BytesIO
from threading import Lock
from typing import Any
from zipfile import ZipFile

import numpy as np
from numpy.typing import NDArray

from changewright.errors import EngineError
from changewright.sound._soundfile import decode

__all__ = [
    "BANK_RATE",
    "BRUSHES",
    "INDEXES",
    "WORDS",
    "Audio",
    "NoteBank",
    "Sample",
    "Voice",
    "voice_ids",
    "voice_of",
]

Audio = NDArray[np.float32]
"""Sound as 32-bit floats, shape (channels, frames), full scale at 1."""

BANK_RATE = 48_000
"""Frames a second of every note in the bank."""

_KEPT_BYTES = 64 * 2**20
_SEAM = 1024  # 20 ms
_STEP = BANK_RATE // 2  # notes are decoded in half seconds, as much as is asked for
BRUSHES = "kit-brushes"
"""The id of the brush kit."""

WORDS = "words"
"""The id of the spoken count, a kit whose keys 1 to 8 are words."""

INDEXES = ("bank/index.json", "bank/words.json")
"""What the bank holds, as its two builders in ``tools/`` wrote it."""

_JAZZ_KIT = "kit-jazz"
_KITS = {40: BRUSHES, 56: WORDS}

# General MIDI programs without a voice of their own borrow one of their family.
_FAMILIES = (
    (range(8), "piano"),
    (range(8, 16), "vibraphone"),
    (range(16, 24), "flute"),
    (range(24, 32), "guitar"),
    (range(32, 33), "double-bass"),
    (range(33, 40), "electric-bass"),
    (range(40, 52), "violin"),
    (range(52, 56), "voice"),
    (range(56, 64), "trumpet"),
    (range(64, 68), "tenor-saxophone"),
    (range(68, 72), "clarinet"),
    (range(72, 80), "flute"),
    (range(80, 128), "vibraphone"),
)


@dataclass(frozen=True, slots=True)
class Sample:
    """One stored note. ``pack`` is the archive it lies in, ``layer`` the velocity at which it was
    played, ``level`` its gain there, ``attack`` the frame at which it becomes audible, ``loop`` a
    stretch of frames to repeat."""

    pack: str
    midi: int
    layer: int
    file: str
    frames: int
    level: float
    attack: int
    loop: tuple[int, int] | None


@dataclass(frozen=True)
class Voice:
    """An instrument or a kit of the bank.

    ``edges`` pairs each layer with the highest velocity it serves; ``curves`` gives the level in
    dB of each velocity from 0 to 127, one curve a piece for a kit and one under -1 for an
    instrument; ``release_db_per_s`` how fast a released note falls; ``loudness`` the weighted
    level of one note, to balance voices.
    """

    id: str
    program: int
    is_kit: bool
    edges: tuple[tuple[int, int], ...]
    curves: dict[int, tuple[float, ...]]
    release_db_per_s: dict[int, float]
    loudness: float
    samples: dict[tuple[int, int], Sample]

    @cached_property
    def roots(self) -> dict[int, tuple[int, ...]]:
        """The stored keys, each with its layers."""
        found: dict[int, list[int]] = {}
        for midi, layer in sorted(self.samples):
            found.setdefault(midi, []).append(layer)
        return {midi: tuple(layers) for midi, layers in found.items()}

    @property
    def channels(self) -> int:
        """Two for the piano, which was recorded in stereo; one for anything else."""
        return 2 if self.id == "piano" else 1

    def root_of(self, midi: int) -> int | None:
        """The stored key nearest to a note, the lower of two; a kit has a piece or has not."""
        if self.is_kit:
            return midi if midi in self.roots else None
        return self._nearest[midi]

    def sample_of(self, midi: int, velocity: int) -> Sample | None:
        """The stored note that serves a key at a velocity."""
        root = self.root_of(midi)
        if root is None:
            return None
        wanted = next(layer for layer, edge in self.edges if velocity <= edge)
        layer = min(self.roots[root], key=lambda known: abs(known - wanted))
        return self.samples[root, layer]

    def gain(self, sample: Sample, velocity: int) -> float:
        """What to multiply a decoded note by, so that it sounds at a velocity."""
        curve = self.curves.get(sample.midi) or self.curves[-1]
        step_db = curve[velocity] - curve[sample.layer]
        return float(sample.level * 10 ** (step_db / 20))

    def release_of(self, midi: int) -> float:
        """How fast a note falls when it is let go, in dB a second."""
        root = self.root_of(midi)
        return self.release_db_per_s.get(-1 if root is None else root, 400.0)

    @cached_property
    def _nearest(self) -> tuple[int, ...]:
        return tuple(min(self.roots, key=lambda r: (abs(r - m), r)) for m in range(128))


def _every_velocity(curve: list[tuple[int, float]]) -> tuple[float, ...]:
    known, levels = [v for v, _ in curve], [db for _, db in curve]
    return tuple(float(db) for db in np.interp(range(128), known, levels))


@cache
def _voices() -> dict[str, Voice]:
    found: dict[str, Voice] = {}
    for index in INDEXES:
        text = files("changewright.sound").joinpath(index).read_text("utf-8")
        found |= {name: _voice(name, row) for name, row in json.loads(text)["voices"].items()}
    jazz, brushes = found[_JAZZ_KIT], found[BRUSHES]
    found[BRUSHES] = replace(
        brushes,
        samples={**_less(jazz.samples, brushes), **brushes.samples},
        curves={**jazz.curves, **brushes.curves},
    )
    return found


def _less(samples: dict[tuple[int, int], Sample], brushes: Voice) -> dict[tuple[int, int], Sample]:
    """The pieces that a brush player leaves to the sticks' kit: all but those he brushes."""
    return {key: sample for key, sample in samples.items() if key[0] not in brushes.curves}


def _voice(name: str, row: dict[str, Any]) -> Voice:
    samples = [
        Sample(
            pack=name,
            midi=note["midi"],
            layer=note["layer"],
            file=note["file"],
            frames=note["frames"],
            level=note["level"],
            attack=note["attack"],
            loop=(note["loop"][0], note["loop"][1]) if note["loop"] else None,
        )
        for note in row["notes"]
    ]
    curves = row.get("curves") or {"-1": row["curve"]}
    return Voice(
        id=name,
        program=row["program"],
        is_kit="curves" in row,
        edges=tuple((layer, edge) for layer, edge in row["edges"]),
        curves={int(k): _every_velocity(curve) for k, curve in curves.items()},
        release_db_per_s={int(k): v for k, v in row.get("release_db_per_s", {}).items()},
        loudness=row["loudness"],
        samples={(s.midi, s.layer): s for s in samples},
    )


def voice_ids() -> tuple[str, ...]:
    """The voices of the bank, kits included."""
    return tuple(sorted(_voices()))


@cache
def voice_of(program: int, is_drums: bool = False) -> Voice:
    """The voice for a General MIDI program (from 0); kit 40 is brushes, 56 the spoken count, any
    other the jazz kit."""
    if is_drums:
        return _voices()[_KITS.get(program, _JAZZ_KIT)]
    own = (v for v in _voices().values() if v.program == program and not v.is_kit)
    family = next(name for programs, name in _FAMILIES if program in programs)
    return next(own, _voices()[family])


class NoteBank:
    """Decoded notes, most recently used last, at most ``kept_bytes`` of them."""

    def __init__(self, kept_bytes: int = _KEPT_BYTES) -> None:
        self._kept_bytes = kept_bytes
        self._notes: OrderedDict[tuple[str, int, int], tuple[Audio, bool]] = OrderedDict()
        self._bytes = 0
        self._lock = Lock()

    def note(self, sample: Sample, midi: int, frames: int) -> Audio:
        """The first ``frames`` or more of a note, moved from its stored key; less where the note
        has died before."""
        key = (sample.pack, midi, sample.layer)
        with self._lock:
            held = self._notes.get(key)
            if held is not None and (held[1] or held[0].shape[1] >= frames):
                self._notes.move_to_end(key)
                return held[0]
            made = self._decode(sample, midi - sample.midi, frames)
            self._keep(key, made)
            return made[0]

    def _keep(self, key: tuple[str, int, int], made: tuple[Audio, bool]) -> None:
        if key in self._notes:
            self._bytes -= self._notes.pop(key)[0].nbytes
        self._notes[key] = made
        self._bytes += made[0].nbytes
        while self._bytes > self._kept_bytes and len(self._notes) > 1:
            _, (old, _) = self._notes.popitem(last=False)
            self._bytes -= old.nbytes

    def _decode(self, sample: Sample, semitones: int, frames: int) -> tuple[Audio, bool]:
        """PITFALL: a loop is repeated before the note is moved. Moved first, its two ends would
        lack their neighbours, and every turn would click."""
        ratio = _ratio(semitones)
        wanted = -(-int(frames * ratio + 64) // _STEP) * _STEP
        blob = _pack(sample.pack).read(sample.file)
        if sample.loop is not None:
            return _moved(_held(decode(blob), sample.loop[0], wanted), ratio), False
        whole = wanted >= sample.frames
        return _moved(decode(blob, None if whole else wanted), ratio), whole


@cache
def _pack(name: str) -> ZipFile:
    """A voice's archive, held in memory: a few hundred kilobytes, and no file is left open."""
    where = files("changewright.sound").joinpath(f"bank/{name}.zip")
    try:
        return ZipFile(BytesIO(where.read_bytes()))
    except FileNotFoundError as missing:
        raise EngineError(f"the note bank lacks the voice {name}") from missing


@cache
def _ratio(semitones: int) -> Fraction:
    return Fraction(2 ** (semitones / 12)).limit_denominator(200)


def _held(stored: Audio, start: int, frames: int) -> Audio:
    """A note held for at least ``frames``: its loop, from ``start`` to its end, again and again.

    The loop was made to fit when it was recorded, and coding has frayed its seam: it is faded over
    once more, into what comes before its start.
    """
    up = np.sin(np.linspace(0, np.pi / 2, _SEAM, dtype=np.float32)) ** 2
    stored[:, -_SEAM:] += (stored[:, start - _SEAM : start] - stored[:, -_SEAM:]) * up
    missing = frames - stored.shape[1]
    if missing <= 0:
        return stored
    turn = stored[:, start:]
    return np.concatenate([stored, *[turn] * -(-missing // turn.shape[1])], axis=1)


def _moved(stored: Audio, ratio: Fraction) -> Audio:
    if ratio == 1:
        return stored
    from scipy.signal import resample_poly

    moved = resample_poly(stored, ratio.denominator, ratio.numerator, axis=1)
    return np.ascontiguousarray(moved, dtype=np.float32)
